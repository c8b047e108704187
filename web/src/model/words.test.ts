import { describe, expect, it } from "vitest";
import { readChoices, usualChoices, writeChoices } from "./choices.js";
import { curveFrom, emptyCurve } from "./curve.js";
import { snapshot, value } from "./examples.js";
import { nameOf, testWords, troubleOf } from "./names.js";
import { plannedAt } from "./plan.js";
import { strings } from "./strings.en.js";
import { curveTable, curveWords } from "./summary.js";
import { clockText, dayText, knownZone, tickText } from "./times.js";

describe("names", () => {
  it("calls a sensor by its place, and by its id where the place is shared", () => {
    const [front, middle] = snapshot().sensors;
    if (front === undefined || middle === undefined) throw new Error("two sensors are there");

    expect(nameOf(front, [front, middle])).toBe("Front");
    expect(nameOf(front, [front, { ...middle, place: "front" }])).toBe("Front");
    expect(nameOf({ ...front, id: "front-low" }, [front, { ...middle, place: "front" }])).toBe("Front low");
    expect(nameOf({ ...front, id: "t7" }, [front, { ...middle, place: "front" }])).toBe("Front t7");
    expect(nameOf({ ...front, place: "loft" }, [front])).toBe("loft");
  });

  it.each([
    [value("a", 900), false, null],
    [value("a", 900, { quality: "C" }), true, null],
    [value("a", 900, { quality: "C" }), false, "to be checked"],
    [value("a", 900, { quality: "F" }), true, "failed"],
    [value("a", 900, { quality: "X" }), false, "X"],
    [value("a", null, { status: "open", quality: "F" }), false, "wire open"],
    [value("a", null, { status: "odd" }), false, "odd"],
    [undefined, false, "nothing yet"],
  ])("tells what is wrong with a value in words", (found, isTest, words) => {
    expect(troubleOf(found, isTest)).toBe(words);
  });

  it("tells what a test is", () => {
    expect(new Set(["simulator", "replay", "other"].map(testWords)).size).toBe(3);
  });
});

describe("strings", () => {
  it.each([
    [0, "0 s"],
    [99.9, "99 s"],
    [100, "1 min"],
    [5999, "99 min"],
    [6000, "1 h 40"],
    [220_000, "61 h 06"],
    [-3, "0 s"],
  ])("writes %s seconds as %s", (seconds, words) => {
    expect(strings.stretch(seconds)).toBe(words);
  });

  it("marks a test in the title", () => {
    expect(strings.title("Demo kiln", true)).toBe("TEST: Demo kiln");
    expect(strings.title(null, false)).toBe("Nightstoke");
  });

  it("says what this screen is not", () => {
    expect(strings.reminders.short).toContain("This is no CO or fire alarm");
    expect(strings.alarm.more(1)).toBe("1 more alarm");
  });
});

describe("plan", () => {
  const points: [number, number][] = [
    [0, 20],
    [100, 120],
    [100, 200],
    [200, 400],
  ];

  it.each([
    [0, 20],
    [50, 70],
    [150, 300],
    [200, 400],
    [201, null],
    [-1, null],
  ])("asks at %s s for %s degC", (time, celsius) => {
    expect(plannedAt(points, time)).toBe(celsius);
  });
});

describe("choices", () => {
  it("come back as they were kept", () => {
    const kept = { ...usualChoices, look: "night", unit: "F", sheet: "curves", chosen: "back" } as const;

    expect(readChoices(writeChoices(kept))).toEqual(kept);
    expect(readChoices('{"who":"  Ana "}').who).toBe("Ana");
    expect(readChoices('{"who":" "}').who).toBeNull();
  });

  it.each([null, "", "{", "7", "null", '{"look":"red","unit":"K","chosen":5}'])("survive %s", (stored) => {
    expect(readChoices(stored)).toEqual(usualChoices);
  });
});

describe("times", () => {
  it("are told in the kiln's zone", () => {
    const noon = Date.UTC(2026, 6, 1, 12, 0) / 1000;

    expect(clockText(noon, "Europe/Lisbon")).toBe("13:00");
    expect(clockText(noon, "UTC")).toBe("12:00");
    expect(tickText(noon, "UTC")).toBe("12:00");
    expect(tickText(noon - 12 * 3600, "UTC")).toBe(dayText(noon, "UTC"));
  });

  it("fall back to UTC where the zone is not known", () => {
    expect(knownZone("Moon/Sea")).toBe("UTC");
    expect(knownZone("Europe/Lisbon")).toBe("Europe/Lisbon");
  });
});

describe("summary", () => {
  const floats = (...figures: number[]): Float32Array => Float32Array.from(figures);
  const curve = curveFrom({
    begin: 0,
    step_s: 10,
    columns: 3,
    sensors: ["a", "b"],
    minima: [floats(100, 200, 300), floats(Number.NaN, Number.NaN, Number.NaN)],
    maxima: [floats(110, 210, 310), floats(Number.NaN, Number.NaN, Number.NaN)],
  });
  const sensors = [
    { id: "a", name: "Front" },
    { id: "b", name: "Back" },
    { id: "c", name: "Flue" },
  ];

  it("tells from, to and now for each sensor that has something", () => {
    expect(curveWords(curve, sensors, "C", "Last hour", 320)).toBe(
      "Last hour: Front from 100 °C to 310 °C, now 305 °C; plan now 320 °C.",
    );
    expect(curveWords(emptyCurve(), sensors, "C", "Last hour", 320)).toBe(
      "Last hour: Nothing recorded in this span yet.",
    );
  });

  it("spreads the moments of the table evenly, newest last", () => {
    expect(curveTable(curve, sensors, "C", 2)).toEqual([
      { time: 5, figures: ["105 °C", "– °C", "– °C"] },
      { time: 25, figures: ["305 °C", "– °C", "– °C"] },
    ]);
    expect(curveTable(curve, sensors, "F", 9)).toHaveLength(3);
    expect(curveTable(curve, sensors, "C", 1)).toEqual([{ time: 25, figures: ["305 °C", "– °C", "– °C"] }]);
    expect(curveTable(emptyCurve(), sensors, "C", 5)).toEqual([]);
  });
});
