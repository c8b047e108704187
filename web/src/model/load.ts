/** How much alarms asked of people: the answer of `GET /api/alarms/report`, checked. */
import { type Check, listOf, mapOf, number, record, text } from "./check.js";

export interface Load {
  begun: number;
  alarms: number;
  per_hour_most: number;
  in_10_min_most: number;
}

export interface AlarmReport {
  share: Record<string, number>;
  most_frequent: [string, string, number][];
  watches: Load[];
}

/** At most so many an hour, and in ten minutes (EEMUA 191, through HSE's sheet 6). */
export const HOUR_MOST = 6;
export const TEN_MIN_MOST = 10;

const row: Check<[string, string, number]> = (found, at) => {
  const [id, title, count] = listOf<unknown>((one) => one)(found, at);
  return [text(id, at), text(title, at), number(count, at)];
};

const report = record<AlarmReport>({
  share: mapOf(number),
  most_frequent: listOf(row),
  watches: listOf(
    record<Load>({ begun: number, alarms: number, per_hour_most: number, in_10_min_most: number }),
  ),
});

export function readReport(found: unknown): AlarmReport {
  return report(found, "report");
}
