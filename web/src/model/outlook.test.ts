import { describe, expect, it } from "vitest";
import golden from "../../../tests/golden/outlook.json?raw";
import {
  coneBeside,
  coneWords,
  momentWords,
  readOutlook,
  type SensorOutlook,
  wantedC,
  whenWords,
} from "./outlook.js";

const outlook = readOutlook(JSON.parse(golden));
const of = (sensor: string): SensorOutlook => {
  const found = outlook.sensors.find((one) => one.sensor === sensor);
  if (found === undefined) throw new Error(`no ${sensor}`);
  return found;
};

describe("outlook", () => {
  it("reads the golden answer without losing a field", () => {
    expect(outlook).toEqual(JSON.parse(golden));
  });

  it("names the field that is wrong", () => {
    const wrong = JSON.parse(golden);
    wrong.points[1].expected.early = "soon";

    expect(() => readOutlook(wrong)).toThrow(
      'outlook.points[1].expected.early: a number expected, "soon" found',
    );
  });

  it("tells moments from now, with the day where it is another one", () => {
    expect(momentWords(outlook.at + 2100, outlook.at, "UTC")).toBe("in 35 min, 16:35");
    expect(momentWords(outlook.at + 36_000, outlook.at, "UTC")).toBe("in 10 h 00, Tue 25 02:00");
  });

  it.each([
    ["front", "next_at", "in 15 min, 16:15", "between 7 min and 25 min from now"],
    ["back", "wanted_at", "in 1 h 55, 17:55", "between 70 min and an open end from now"],
  ] as const)("tells when %s's %s is expected", (sensor, what, likely, between) => {
    const found = of(sensor)[what];
    if (found === null) throw new Error("nothing told");

    expect(whenWords(found, outlook, "UTC")).toEqual({ likely, between });
  });

  it("says that something is there already, or lies beyond what it sees", () => {
    const there = whenWords({ early: outlook.at, likely: outlook.at, late: outlook.at }, outlook, "UTC");
    const soon = { early: outlook.at + 17, likely: outlook.at + 60, late: outlook.at + 120 };
    const beyond = whenWords({ early: null, likely: null, late: null }, outlook, "UTC");
    const perhaps = whenWords({ early: outlook.at + 3600, likely: null, late: null }, outlook, "UTC");

    expect(there.likely).toBe("there already");
    expect(whenWords(soon, outlook, "UTC")).toEqual({ likely: "about now", between: "" });
    expect(beyond).toEqual({ likely: "not within 72 h", between: "" });
    expect(perhaps.between).toBe("in 60 min, 17:00 at the earliest");
  });

  it("tells cones as about, and with the cones that it may be", () => {
    expect(coneWords(of("middle"))).toBe("about cone 3 (2 to 4)");
    expect(coneWords({ ...of("middle"), equivalent_c: null })).toBe("no cone yet");
    expect(coneWords({ ...of("middle"), cone: null, lowest: null, highest: "022" })).toBe("below cone 022");
    expect(coneWords({ ...of("middle"), cone: "15", highest: null })).toBe("about cone 15 (2 to higher)");
  });

  it("asks for the plan's top unless something was chosen", () => {
    expect(wantedC(1200, [], 900)).toBe(1200);
    expect(
      wantedC(
        null,
        [
          [0, 20],
          [1, 1288],
        ],
        900,
      ),
    ).toBe(1290);
    expect(wantedC(null, [], 912)).toBe(1000);
    expect(wantedC(null, [], null)).toBe(100);
  });

  it("steps along the cones and stops at their ends", () => {
    expect(coneBeside(outlook.scale, "1", -1)).toBe("01");
    expect(coneBeside(outlook.scale, "01", 1)).toBe("1");
    expect(coneBeside(outlook.scale, "15", 1)).toBeNull();
    expect(coneBeside(outlook.scale, "022", -1)).toBeNull();
  });
});
