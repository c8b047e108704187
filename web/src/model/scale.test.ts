import { describe, expect, it } from "vitest";
import golden from "../../../tests/golden/outlook.json?raw";
import { readOutlook, type When } from "./outlook.js";
import { coneScale, hourScale, placeOn } from "./scale.js";

const outlook = readOutlook(JSON.parse(golden));
const NOW = outlook.at;
const when = (early: number | null, likely: number | null, late: number | null): When => ({
  early,
  likely,
  late,
});

describe("scale of cones", () => {
  it("holds every sensor with its doubt", () => {
    const scale = coneScale(outlook);
    if (scale === null) throw new Error("no scale");

    expect(scale.low).toBeCloseTo(1118.3 - 21.5 - 25);
    expect(scale.high).toBeCloseTo(1236.4 + 22.6 + 25);
    expect(scale.marks.map(({ name }) => name)).toContain("6");
    expect(placeOn(scale, scale.low)).toBe(0);
    expect(placeOn(scale, 5000)).toBe(1);
    expect(placeOn(scale, (scale.low + scale.high) / 2)).toBeCloseTo(0.5);
  });

  it("keeps names from running into each other", () => {
    const marks = coneScale(outlook)?.marks ?? [];

    expect(marks.length).toBeGreaterThan(4);
    for (let index = 1; index < marks.length; index += 1) {
      expect((marks[index]?.at ?? 0) - (marks[index - 1]?.at ?? 0)).toBeGreaterThanOrEqual(0.08);
    }
  });

  it("is none before the first cone", () => {
    const cold = { ...outlook, sensors: outlook.sensors.map((one) => ({ ...one, equivalent_c: null })) };

    expect(coneScale(cold)).toBeNull();
  });
});

describe("scale of hours", () => {
  it("reaches from now to the last end that is known, whole hours named", () => {
    const scale = hourScale(NOW, [when(NOW + 600, NOW + 1800, NOW + 5 * 3600)], [NOW - 900], "UTC");

    expect(scale.low).toBe(NOW);
    expect(scale.high).toBe(NOW + 5 * 3600 + 720);
    expect(scale.marks.map(({ name }) => name)).toEqual(["17:00", "18:00", "19:00", "20:00", "21:00"]);
  });

  it("takes the likely moment where the end is open, and the plan", () => {
    const open = hourScale(NOW, [when(NOW + 3600, NOW + 9000, null)], [], "UTC");
    const planned = hourScale(NOW, [], [NOW + 40 * 3600], "UTC");

    expect(open.high).toBe(NOW + 9000 + 720);
    expect(planned.marks.map(({ name }) => name)).toEqual([
      "18:00",
      "Tue 25",
      "06:00",
      "12:00",
      "18:00",
      "Wed 26",
      "06:00",
    ]);
  });

  it("shows two hours where nothing is known", () => {
    expect(hourScale(NOW, [when(null, null, null)], [], "UTC").high).toBe(NOW + 7200 + 720);
  });
});
