/**
 * The sounds as data: what to play when, in seconds and hertz. Energy stays below 1500 Hz with overtones up to 2.5 kHz
 * and the sounds are pulsed (ISO 7731, from a summary); levels and lengths are own starting values.
 */
import type { Voice } from "./alarms.js";

export interface Tone {
  at_s: number;
  length_s: number;
  hertz: number;
  /** Level of the fundamental and its overtones, fundamental first; their sum is at most 1. */
  levels: readonly number[];
}

interface Pattern {
  period_s: number;
  tones: readonly Tone[];
}

/** How far ahead sound is put on the audio clock, so that a throttled or busy page goes on sounding. */
export const AHEAD_S = 90;

const RICH = [0.55, 0.3, 0.15] as const;
const SOFT = [0.35] as const;
const PLAIN = [0.6, 0.2] as const;

const patterns: Record<Exclude<Voice, "none">, Pattern> = {
  first: {
    period_s: 1,
    tones: [
      { at_s: 0, length_s: 0.45, hertz: 660, levels: RICH },
      { at_s: 0.5, length_s: 0.45, hertz: 880, levels: [0.65, 0.2] },
    ],
  },
  second: {
    period_s: 10,
    tones: [0, 0.6, 1.2].map((at_s) => ({ at_s, length_s: 0.4, hertz: 700, levels: PLAIN })),
  },
  third: { period_s: 30, tones: [{ at_s: 0, length_s: 0.6, hertz: 520, levels: SOFT }] },
  prompt: {
    period_s: 60,
    tones: [
      { at_s: 0, length_s: 0.15, hertz: 523, levels: SOFT },
      { at_s: 0.2, length_s: 0.2, hertz: 659, levels: SOFT },
    ],
  },
};

/** All tones of a voice that begin in [from, until) seconds after the voice began. */
export function tonesBetween(voice: Voice, from_s: number, until_s: number): Tone[] {
  if (voice === "none") return [];
  const { period_s, tones } = patterns[voice];
  const found: Tone[] = [];
  for (let round = Math.floor(from_s / period_s); round * period_s < until_s; round += 1) {
    for (const tone of tones) {
      const at_s = round * period_s + tone.at_s;
      if (at_s >= from_s && at_s < until_s) found.push({ ...tone, at_s });
    }
  }
  return found;
}
