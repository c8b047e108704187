/** The curves in words and as a small table, for whoever does not see the picture. */
import type { Curve, Row } from "./curve.js";
import { middleOf } from "./curve.js";
import { strings } from "./strings.en.js";
import { temperatureText, type Unit } from "./units.js";

export interface Named {
  id: string;
  name: string;
}

export interface TableRow {
  time: number;
  figures: string[];
}

function extremes(row: Row): [number, number] | null {
  const lows = row.minima.filter((low): low is number => low !== null);
  const highs = row.maxima.filter((high): high is number => high !== null);
  if (lows.length === 0) return null;
  const low = lows.reduce((a, b) => Math.min(a, b));
  return [low, highs.reduce((a, b) => Math.max(a, b), low)];
}

function newest(row: Row): number | null {
  return middleOf(row).findLast((celsius) => celsius !== null) ?? null;
}

/** One sentence per sensor: from, to, now. */
export function curveWords(
  curve: Curve,
  sensors: readonly Named[],
  unit: Unit,
  spanWords: string,
  plannedNow: number | null,
): string {
  const parts = sensors.flatMap(({ id, name }) => {
    const row = curve.rows.get(id);
    const found = row === undefined ? null : extremes(row);
    if (row === undefined || found === null) return [];
    const [low, high] = found.map((celsius) => temperatureText(unit, celsius)) as [string, string];
    return [strings.curves.range(name, low, high, temperatureText(unit, newest(row)))];
  });
  if (parts.length === 0) return `${spanWords}: ${strings.curves.empty}`;
  if (plannedNow !== null) parts.push(strings.curves.planNow(temperatureText(unit, plannedNow)));
  return `${spanWords}: ${parts.join("; ")}.`;
}

/** At most `count` evenly spread moments with each sensor's figure, the newest last. */
export function curveTable(curve: Curve, sensors: readonly Named[], unit: Unit, count: number): TableRow[] {
  const last = curve.times.length - 1;
  if (last < 0) return [];
  const lines = sensors.map(({ id }) => middleOf(curve.rows.get(id) ?? { minima: [], maxima: [] }));
  const steps = Math.min(count, last + 1);
  return Array.from({ length: steps }, (_, step) => {
    const at = steps === 1 ? last : Math.round((step * last) / (steps - 1));
    const figures = lines.map((line) => temperatureText(unit, line[at] ?? null));
    return { time: curve.times[at] ?? 0, figures };
  });
}
