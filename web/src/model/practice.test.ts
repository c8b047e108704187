import { describe, expect, it } from "vitest";
import { practice } from "./examples.js";
import {
  doneWords,
  kilosText,
  leadWords,
  notchBeside,
  portName,
  reportRows,
  shareText,
  whyWords,
} from "./practice.js";
import type { PracticeReport } from "./practice_messages.js";

const report: PracticeReport = {
  begun: 0,
  ended: 5400,
  stokes: 12,
  side_stokes: 3,
  wood_kg: 41.2,
  mean_interval_min: 7.46,
  agreed_interval_min: 6,
  longest_gap_min: 21,
  falls: 1,
  stalls: 0,
  lowest_c: 1000,
  highest_c: 1040.4,
  warmest: ["front-1", 1051.2],
  coldest: ["cellar", 990],
};

describe("settings", () => {
  it.each([
    [0.213, "open", 0.4],
    [0.213, "close", 0.2],
    [0.4, "open", 0.8],
    [0.4, "close", 0.2],
    [1, "open", null],
    [0, "close", null],
    [0.05, "close", 0],
  ] as const)("finds beside %s the notch to %s", (now, direction, notch) => {
    expect(notchBeside(practice().notches, now, direction)).toBe(notch);
  });

  it("writes shares and wood with their units", () => {
    expect(shareText(0.213)).toBe("21 %");
    expect([kilosText(2.64), kilosText(41.2)]).toEqual(["2.6\u00a0kg", "41\u00a0kg"]);
  });
});

describe("words of the practice", () => {
  it("calls a port by its place, and by its zone where the place is shared or unknown", () => {
    const shared = practice({ ports: ["front-1", "front-2"].map((zone) => ({ zone, place: "front" })) });

    expect(portName(practice(), "front-1")).toBe("Front");
    expect(portName(shared, "front-1")).toBe("front-1");
    expect(portName(practice(), "loft")).toBe("loft");
  });

  it("tells what the lead wants, side stoking only once it is wanted", () => {
    const lead = { ...practice().lead, side_every_min: 6, side_ports: ["front-1"] };

    expect(leadWords(practice(), "C")).toEqual(["a stoke every 4 min, 2.6\u00a0kg", "climb +20 °C/h"]);
    expect(leadWords(practice({ lead }), "F")).toEqual([
      "a stoke every 4 min, 2.6\u00a0kg",
      "side: 6 min, Front",
      "climb +36 °F/h",
    ]);
    expect(leadWords(practice({ lead: { ...lead, interval_min: 0 } }), "C")[0]).toBe("no more stoking");
  });

  it.each([
    ["stoke", null, 2.6, "Stoked 2.6\u00a0kg"],
    ["side-stoke", "front-1", 1.8, "Side stoke front, 1.8\u00a0kg"],
    ["damper", null, null, "Damper 80 %"],
    ["primary", null, null, "Air below 21 %"],
    ["rake", null, null, "Raked the embers"],
    ["look", null, null, "Looked in"],
  ])("tells a %s", (what, zone, kg, words) => {
    expect(doneWords(practice(), { time: 0, what, zone, kg })).toBe(words);
  });

  it("tells why not, and says so where the word is unknown", () => {
    expect(whyWords("full")).toContain("Let it burn down");
    expect(whyWords("odd")).toContain("Tap again");
  });

  it("tells a report in numbers with their units, and nothing that is not known", () => {
    const rows = new Map(reportRows(practice(), report, "F"));
    const bare = new Map(reportRows(practice(), { ...report, mean_interval_min: null }, "C"));

    expect(rows.get("Kiln time")).toBe("90 min");
    expect(rows.get("Stokes")).toBe("12 front, 3 side, 41\u00a0kg");
    expect(rows.get("Between stokes")).toBe("7.5 min, agreed 6.0 min");
    expect(rows.get("Longest gap")).toBe("21.0 min");
    expect([rows.get("Falls"), rows.get("Stalls")]).toEqual(["1", "0"]);
    expect(rows.get("At the guide")).toBe("1832 °F to 1905 °F");
    expect(rows.get("Warmest ware")).toBe("Front, 1924 °F");
    expect(rows.get("Coldest ware")).toBe("cellar, 1814 °F");
    expect(bare.get("Between stokes")).toBe("–");
  });
});
