import { describe, expect, it } from "vitest";
import { addLive, curveFrom, emptyCurve, freshOf, isOvergrown, middleOf, SPAN_S, trim } from "./curve.js";
import { value } from "./examples.js";
import { readHistory } from "./history.js";

const decode = (bytes: Uint8Array): string => String.fromCharCode(...bytes);

/** Two sensors, three columns of 10 s from 100 s on. */
function answer(change: Record<string, unknown> = {}): ArrayBuffer {
  const head = { begin: 100, step_s: 10, columns: 3, sensors: ["front", "back"], ...change };
  let words = JSON.stringify(head);
  while ((4 + words.length) % 8 !== 0) words += " ";
  const figures = [1, 2, Number.NaN, 4, 5, 6, 11, 12, Number.NaN, 14, 15, 16];
  const bytes = new ArrayBuffer(4 + words.length + figures.length * 4);
  const view = new DataView(bytes);
  view.setUint32(0, words.length, true);
  [...words].forEach((letter, index) => {
    view.setUint8(4 + index, letter.charCodeAt(0));
  });
  figures.forEach((figure, index) => {
    view.setFloat32(4 + words.length + index * 4, figure, true);
  });
  return bytes;
}

describe("history", () => {
  it("reads header, minima and maxima sensor by sensor", () => {
    const history = readHistory(answer(), decode);

    expect(history).toMatchObject({ begin: 100, step_s: 10, columns: 3, sensors: ["front", "back"] });
    expect([...(history.minima[1] ?? [])]).toEqual([4, 5, 6]);
    expect([...(history.maxima[0] ?? [])]).toEqual([11, 12, Number.NaN]);
  });

  it("refuses an answer of the wrong length", () => {
    expect(() => readHistory(answer({ columns: 4 }), decode)).toThrow(/bytes expected/);
  });

  it("refuses a header without its fields", () => {
    expect(() => readHistory(answer({ step_s: "ten" }), decode)).toThrow("history.step_s: a number expected");
  });
});

describe("curve", () => {
  it("leaves a gap where there is no data, and draws between the extremes", () => {
    const curve = curveFrom(readHistory(answer(), decode));
    const front = curve.rows.get("front");

    expect(curve.times).toEqual([105, 115, 125]);
    expect(front?.minima).toEqual([1, 2, null]);
    expect(front === undefined ? [] : middleOf(front)).toEqual([6, 7, null]);
  });

  it("puts live values into their column and opens new ones", () => {
    const curve = curveFrom(readHistory(answer(), decode));
    addLive(curve, 129, new Map([["front", 3]]));
    addLive(curve, 129.5, new Map([["front", 1]]));
    addLive(
      curve,
      152,
      new Map([
        ["front", 9],
        ["back", null],
      ]),
    );

    expect(curve.times).toEqual([105, 115, 125, 135, 145, 155]);
    expect(curve.rows.get("front")?.minima).toEqual([1, 2, 1, null, null, 9]);
    expect(curve.rows.get("front")?.maxima).toEqual([11, 12, 3, null, null, 9]);
    expect(curve.rows.get("back")?.maxima.at(-1)).toBeNull();
  });

  it("is not disturbed by a clock that stepped back or leapt ahead", () => {
    const curve = curveFrom(readHistory(answer(), decode));
    addLive(curve, 60, new Map([["front", 500]]));
    addLive(curve, 1e9, new Map([["front", 500]]));

    expect(Math.max(...(curve.rows.get("front")?.maxima.map(Number) ?? []))).toBe(12);
    expect(curve.times.length).toBeLessThan(12);
    expect(isOvergrown(curve)).toBe(true);
  });

  it("does not draw on what a frame only repeats", () => {
    const old = value("front", 900, { age_s: 12 });
    const values = [old, value("back", 880, { age_s: 0.2 }), value("flue", null, { age_s: null })];

    expect([...freshOf(values)]).toEqual([["back", 880]]);
  });

  it("takes nothing before there is a history", () => {
    const curve = emptyCurve();
    addLive(curve, 100, new Map([["front", 1]]));

    expect(curve.times).toEqual([]);
    expect(isOvergrown(curve)).toBe(false);
  });

  it("drops what has left the span", () => {
    const curve = curveFrom(readHistory(answer(), decode));
    trim(curve, 110);
    trim(curve, 50);

    expect(curve.times).toEqual([115, 125]);
    expect(curve.rows.get("back")?.minima).toEqual([5, 6]);
    expect(SPAN_S.hour).toBe(3600);
  });
});
