/** Scales of the sheet of heat work: the stretch of cones, and the hours ahead, with marks that do not collide. */
import type { Outlook, When } from "./outlook.js";
import { tickText } from "./times.js";

export interface Mark {
  name: string;
  /** Place along the scale, 0 to 1. */
  at: number;
}

export interface Scale {
  low: number;
  high: number;
  marks: Mark[];
}

/** Room at either end of the scale of cones, degC. */
const ROOM_C = 25;
/** Names closer than this share of the scale would run into each other. */
const NAMES_APART = 0.08;
/** Names stay this far from the ends. */
const RIM = 0.02;

const HOUR_S = 3600;
const STEPS_H = [1, 2, 3, 6, 12, 24] as const;
const MOST_TICKS = 8;
const LEAST_SPAN_S = 2 * HOUR_S;

/** Place along the scale, 0 to 1. */
export function placeOn(scale: Scale, value: number): number {
  return Math.min(1, Math.max(0, (value - scale.low) / (scale.high - scale.low)));
}

function apart(low: number, high: number, values: readonly (readonly [string, number])[]): Scale {
  const marks: Mark[] = [];
  let last = Number.NEGATIVE_INFINITY;
  for (const [name, value] of values) {
    const at = (value - low) / (high - low);
    if (at < RIM || at > 1 - RIM || at - last < NAMES_APART) continue;
    marks.push({ name, at });
    last = at;
  }
  return { low, high, marks };
}

/** The stretch of cones, in degC, that holds every sensor with its doubt; null while none has reached a cone. */
export function coneScale(outlook: Outlook): Scale | null {
  const ends = outlook.sensors.flatMap(({ equivalent_c, half_width_c }) =>
    equivalent_c === null || half_width_c === null
      ? []
      : [equivalent_c - half_width_c, equivalent_c + half_width_c],
  );
  if (ends.length === 0) return null;
  return apart(Math.min(...ends) - ROOM_C, Math.max(...ends) + ROOM_C, outlook.scale);
}

/** The hours from `now` that hold every moment known of `whens`, with a name at every so many whole hours. */
export function hourScale(
  now: number,
  whens: readonly When[],
  planned: readonly number[],
  zone: string,
): Scale {
  const ends = whens.flatMap(({ early, likely, late }) => [late ?? likely ?? early ?? now]);
  const high = Math.max(now + LEAST_SPAN_S, ...ends, ...planned) + 0.1 * LEAST_SPAN_S;
  const step_s = HOUR_S * (STEPS_H.find((hours) => (high - now) / (hours * HOUR_S) <= MOST_TICKS) ?? 24);
  const values: [string, number][] = [];
  for (let time = Math.ceil(now / step_s) * step_s; time < high; time += step_s) {
    values.push([tickText(time, zone), time]);
  }
  return apart(now, high, values);
}
