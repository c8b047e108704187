/* Bounds of ISO 7731 from a public summary: main frequencies 500 to 2500 Hz, pulsed, most energy below 1500 Hz. */
import { describe, expect, it } from "vitest";
import { AHEAD_S, tonesBetween } from "./patterns.js";

describe("patterns", () => {
  it("alternates 660 and 880 Hz for priority 1", () => {
    expect(tonesBetween("first", 0, 2).map(({ hertz }) => hertz)).toEqual([660, 880, 660, 880]);
  });

  it("gives three pulses of 700 Hz each 10 s for priority 2", () => {
    const tones = tonesBetween("second", 0, 20);

    expect(tones.map(({ hertz }) => hertz)).toEqual(Array(6).fill(700));
    expect(tones[3]?.at_s).toBe(10);
  });

  it("gives one soft pulse for priority 3 and two rising notes for a prompt", () => {
    const [low, high] = tonesBetween("prompt", 0, 10);

    expect(tonesBetween("third", 0, 10)).toHaveLength(1);
    expect(tonesBetween("third", 0, 10)[0]?.levels).toHaveLength(1);
    expect(tonesBetween("prompt", 0, 10)).toHaveLength(2);
    expect(high?.hertz ?? 0).toBeGreaterThan(low?.hertz ?? 0);
    expect(tonesBetween("none", 0, AHEAD_S)).toEqual([]);
  });

  it("is the same however the time is cut", () => {
    const whole = tonesBetween("second", 0, AHEAD_S);
    const cuts = [0, 0.3, 1.2, 10, 33.3, AHEAD_S];
    const pieces = cuts.slice(1).flatMap((until, index) => tonesBetween("second", cuts[index] ?? 0, until));

    expect(pieces).toEqual(whole);
  });

  it.each(["first", "second", "third", "prompt"] as const)(
    "keeps %s pulsed, within 2.5 kHz and level",
    (voice) => {
      const tones = tonesBetween(voice, 0, AHEAD_S);

      tones.forEach((tone, index) => {
        const ends_s = tone.at_s + tone.length_s;
        const energy = tone.levels.map((level, nth) => [tone.hertz * (nth + 1), level ** 2] as const);
        const low = energy.filter(([hertz]) => hertz < 1500).reduce((sum, [, part]) => sum + part, 0);
        const all = energy.reduce((sum, [, part]) => sum + part, 0);

        expect(tones[index + 1]?.at_s ?? Number.POSITIVE_INFINITY).toBeGreaterThan(ends_s);
        expect(Math.max(...energy.map(([hertz]) => hertz))).toBeLessThanOrEqual(2500);
        expect(tone.levels.reduce((a, b) => a + b)).toBeLessThanOrEqual(1.0001);
        expect(low / all).toBeGreaterThan(0.5);
      });
    },
  );
});
