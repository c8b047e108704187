/** The answer of `/api/outlook`: heat work, evenness and forecast; and what the sheet makes of it. */
import { listOf, number, orNull, pair, record, text, truth } from "./check.js";
import { strings } from "./strings.en.js";
import { clockText, dayText } from "./times.js";

/** Epoch seconds; null for later than the outlook looks. */
export interface When {
  early: number | null;
  likely: number | null;
  late: number | null;
}

export interface SensorOutlook {
  sensor: string;
  celsius: number | null;
  equivalent_c: number | null;
  half_width_c: number | null;
  cone: string | null;
  lowest: string | null;
  highest: string | null;
  unmeasured: number;
  next_cone: string | null;
  next_at: When | null;
  wanted_at: When | null;
  wanted_cone_at: When | null;
  doubtful: boolean;
}

export interface Evenness {
  hottest: string;
  coldest: string;
  apart_c: number;
  unsure_c: number;
}

export interface PointOutlook {
  celsius: number;
  planned: number;
  expected: When;
}

export interface Outlook {
  at: number;
  guide: string | null;
  pace: number | null;
  reach_h: number;
  sensors: SensorOutlook[];
  evenness: Evenness | null;
  points: PointOutlook[];
  scale: [string, number][];
}

const when = record<When>({ early: orNull(number), likely: orNull(number), late: orNull(number) });

const readFields = record<Outlook>({
  at: number,
  guide: orNull(text),
  pace: orNull(number),
  reach_h: number,
  sensors: listOf(
    record<SensorOutlook>({
      sensor: text,
      celsius: orNull(number),
      equivalent_c: orNull(number),
      half_width_c: orNull(number),
      cone: orNull(text),
      lowest: orNull(text),
      highest: orNull(text),
      unmeasured: number,
      next_cone: orNull(text),
      next_at: orNull(when),
      wanted_at: orNull(when),
      wanted_cone_at: orNull(when),
      doubtful: truth,
    }),
  ),
  evenness: orNull(record<Evenness>({ hottest: text, coldest: text, apart_c: number, unsure_c: number })),
  points: listOf(record<PointOutlook>({ celsius: number, planned: number, expected: when })),
  scale: listOf(pair(text, number)),
});

export function readOutlook(found: unknown): Outlook {
  return readFields(found, "outlook");
}

/** A moment as the watch reads it: "in 35 min (14:05)", with the day where that is another one. */
export function momentWords(time: number, now: number, zone: string): string {
  const clock = clockText(time, zone);
  const day = dayText(time, zone);
  const at = day === dayText(now, zone) ? clock : `${day} ${clock}`;
  return strings.heat.moment(strings.stretch(Math.max(0, time - now)), at);
}

/** Nearer than this nobody looks at the cones by the second, and no probe tells them so well. */
const NOW_S = 300;

/** When something is expected: the likely moment and the interval behind it. */
export function whenWords(found: When, outlook: Outlook, zone: string): { likely: string; between: string } {
  const words = strings.heat;
  const now = outlook.at;
  if (found.late !== null && found.late - now < 1) return { likely: words.there, between: "" };
  if (found.late !== null && found.late - now < NOW_S) return { likely: words.now, between: "" };
  if (found.likely === null) {
    const early = found.early === null ? "" : words.earliest(momentWords(found.early, now, zone));
    return { likely: words.beyond(outlook.reach_h), between: early };
  }
  const [early, late] = [found.early ?? now, found.late].map((time) =>
    time === null ? null : strings.stretch(Math.max(0, time - now)),
  );
  return {
    likely: momentWords(found.likely, now, zone),
    between: words.between(early ?? "", late ?? words.open),
  };
}

/** The cone as words: "about cone 6 (5 to 7)". */
export function coneWords(sensor: SensorOutlook): string {
  const { cone, lowest, highest } = sensor;
  if (sensor.equivalent_c === null) return strings.heat.noCone;
  if (cone === null) return strings.heat.below(highest ?? "");
  return strings.heat.about(cone, lowest ?? strings.heat.lower, highest ?? strings.heat.higher);
}

const STEP_C = 10;

/** The temperature to ask for: what was chosen, else the top of the plan, else the next hundred above the guide. */
export function wantedC(
  chosen: number | null,
  plan: readonly [number, number][],
  guideC: number | null,
): number {
  if (chosen !== null) return chosen;
  const top = plan.reduce((most, [, celsius]) => Math.max(most, celsius), Number.NEGATIVE_INFINITY);
  if (Number.isFinite(top)) return Math.round(top / STEP_C) * STEP_C;
  return Math.ceil(((guideC ?? 0) + 50) / 100) * 100;
}

/** The cone beside `name` on the scale, null beyond its ends. */
export function coneBeside(scale: readonly [string, number][], name: string, step: -1 | 1): string | null {
  const index = scale.findIndex(([one]) => one === name);
  return scale[index + step]?.[0] ?? null;
}
