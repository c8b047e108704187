/**
 * The samples behind the picture: columns of minimum and maximum, filled from the history and kept going by live
 * values. Plain arrays of bounded length, outside all reactive state. Lines are drawn as measured, without smoothing.
 */
import type { Span } from "./choices.js";
import type { History } from "./history.js";
import type { Value } from "./messages.js";

/** How much record time a span covers in seconds; null is the whole firing. */
export const SPAN_S: Record<Span, number | null> = { firing: null, "six-hours": 6 * 3600, hour: 3600 };

/** How many times the asked columns may pile up before the history is asked for again. */
const OVERGROWN = 1.5;

export interface Row {
  minima: (number | null)[];
  maxima: (number | null)[];
}

export interface Curve {
  step_s: number;
  asked: number;
  /** Epoch seconds of the middle of each column. */
  times: number[];
  rows: Map<string, Row>;
}

export function emptyCurve(): Curve {
  return { step_s: 1, asked: 0, times: [], rows: new Map() };
}

function orGap(celsius: number | undefined): number | null {
  return celsius === undefined || Number.isNaN(celsius) ? null : celsius;
}

export function curveFrom(history: History): Curve {
  const rows = new Map<string, Row>();
  history.sensors.forEach((sensor, index) => {
    const minima = Array.from(history.minima[index] ?? [], orGap);
    const maxima = Array.from(history.maxima[index] ?? [], orGap);
    rows.set(sensor, { minima, maxima });
  });
  const middle = history.begin + history.step_s / 2;
  const times = Array.from({ length: history.columns }, (_, index) => middle + index * history.step_s);
  return { step_s: history.step_s, asked: history.columns, times, rows };
}

/** Ages up to this many real seconds are of a scan that came just now; a frame also repeats what is older. */
const FRESH_S = 2;

/** The values that were measured now: what is merely repeated must not be drawn on as if it were. */
export function freshOf(values: readonly Value[]): ReadonlyMap<string, number | null> {
  const fresh = values.filter((value) => value.age_s !== null && value.age_s <= FRESH_S);
  return new Map(fresh.map((value) => [value.sensor, value.celsius]));
}

/** Put live values into the column that their time belongs to; `celsius` null leaves a gap. */
export function addLive(curve: Curve, clock: number, values: ReadonlyMap<string, number | null>): void {
  const last = curve.times.at(-1);
  if (last === undefined || clock < last - curve.step_s / 2) return;
  const steps = Math.floor((clock - last) / curve.step_s + 0.5);
  const missing = Math.min(steps, Math.ceil(curve.asked * OVERGROWN) + 1);
  for (let step = 1; step <= missing; step += 1) openColumn(curve, last + step * curve.step_s);
  if (steps > missing) return; // beyond what is kept: the history that is asked for next will have it
  for (const [sensor, row] of curve.rows) {
    const celsius = values.get(sensor);
    if (celsius !== undefined && celsius !== null) widen(row, celsius);
  }
}

function openColumn(curve: Curve, time: number): void {
  curve.times.push(time);
  for (const row of curve.rows.values()) {
    row.minima.push(null);
    row.maxima.push(null);
  }
}

function widen(row: Row, celsius: number): void {
  const at = row.minima.length - 1;
  row.minima[at] = Math.min(row.minima[at] ?? celsius, celsius);
  row.maxima[at] = Math.max(row.maxima[at] ?? celsius, celsius);
}

/** Whether the history should be asked for again: too many columns have piled up. */
export function isOvergrown(curve: Curve): boolean {
  return curve.times.length > curve.asked * OVERGROWN;
}

/** Drop the columns that have left a sliding span. */
export function trim(curve: Curve, oldest: number): void {
  const first = curve.times.findIndex((time) => time >= oldest);
  if (first <= 0) return;
  curve.times.splice(0, first);
  for (const row of curve.rows.values()) {
    row.minima.splice(0, first);
    row.maxima.splice(0, first);
  }
}

/** The line between the extremes: what is drawn when a column holds more than one sample. */
export function middleOf(row: Row): (number | null)[] {
  return row.minima.map((low, index) => {
    const high = row.maxima[index] ?? null;
    return low === null || high === null ? null : (low + high) / 2;
  });
}
