import { describe, expect, it } from "vitest";
import {
  BOUNCE_MS,
  closedSince,
  deedWords,
  idOf,
  logRows,
  sureWords,
  toldEntry,
  type Waiting,
  withTap,
} from "./log.js";
import type { EntryLine, FindingLine } from "./messages.js";

const front: Waiting = { id: "a", deed: { what: "stoked", door: "front" }, who: null, tappedMs: 1000 };
const entry = (what: string, time: number): EntryLine => ({
  id: String(time),
  time,
  what,
  door: null,
  who: null,
  note: null,
});

describe("log", () => {
  it("keeps a tap until it is confirmed, and lets a glove bounce", () => {
    const again: Waiting = { ...front, id: "b", tappedMs: 1000 + BOUNCE_MS - 1 };
    const later: Waiting = { ...front, id: "c", tappedMs: 1000 + BOUNCE_MS };
    const side: Waiting = { id: "d", deed: { what: "stoked", door: "side" }, who: null, tappedMs: 1001 };

    expect(withTap([], front, null)).toEqual([front]);
    expect(withTap([front], again, front)).toBeNull();
    expect(withTap([front], later, front)).toEqual([front, later]);
    expect(withTap([front], side, front)).toEqual([front, side]);
  });

  it("tells how long ago the tap was, however long the link was cut", () => {
    expect(toldEntry(front, 61_500)).toEqual({
      id: "a",
      what: "stoked",
      door: "front",
      ago_s: 60.5,
      who: null,
      note: null,
    });
    expect(
      toldEntry({ ...front, who: "Ana", deed: { what: "ticked", door: null, note: "handover/drink" } }, 1000),
    ).toMatchObject({ who: "Ana", note: "handover/drink" });
    expect(toldEntry(front, 900).ago_s).toBe(0);
  });

  it("names a tap by its random bytes", () => {
    expect(idOf(Uint8Array.of(0, 1, 15, 16, 171, 205, 239, 255))).toBe("00010f10abcdefff");
  });

  it("says what was done", () => {
    expect(deedWords("stoked", "side")).toBe("Stoked at the side");
    expect(deedWords("ticked", null, "handover/drink")).toBe("Ticked: handover/drink");
    expect(deedWords("stoked", null)).toBe("Stoked");
    expect(deedWords("closed-up", null)).toBe("Kiln closed up");
    expect(deedWords("raked", null)).toBe("raked");
  });

  it("knows since when the kiln is closed up", () => {
    const told = [entry("closed-up", 10), entry("fired-on", 20), entry("closed-up", 30), entry("stoked", 40)];

    expect(closedSince(told, true)).toBe(30);
    expect(closedSince(told, false)).toBeNull();
    expect(closedSince([], true)).toBeNull();
  });

  const finding = (
    kind: string,
    state: string,
    onset: number,
    other: Partial<FindingLine> = {},
  ): FindingLine => ({
    time: onset + 300,
    kind,
    state,
    sensor: "middle",
    onset,
    measure: null,
    unit: null,
    text: `${kind} seen`,
    fault: null,
    door: null,
    ratio: null,
    confidence: null,
    ...other,
  });
  const capital = (id: string): string => id.toUpperCase();

  it("puts what was told and what was seen in one row of time, newest first", () => {
    const told = [entry("fired-on", 900), { ...entry("stoked", 1000), door: "front", who: "Ines" }];
    const found = [
      finding("stoke", "event", 1020, { door: "front" }),
      finding("stoke", "event", 1500, { door: "front" }),
      finding("fall", "begin", 1200, { confidence: 0.9 }),
      finding("fall", "end", 1400),
      finding("sensor", "begin", 1600, { sensor: "back", fault: "open" }),
    ];
    const rows = logRows(told, found, capital, 10);

    expect(rows.map(({ time, end, title }) => [time, end, title])).toEqual([
      [1600, null, "Probe in doubt: BACK"],
      [1500, null, "Stoke at the front, seen by the probes"],
      [1200, 1400, "Temperature falling"],
      [1000, null, "Stoked at the front"],
      [900, null, "Fired on"],
    ]);
    expect(rows[3]?.who).toBe("Ines");
    expect(rows[2]?.why).toEqual({
      isOpen: false,
      text: "fall seen",
      known: 1500,
      confidence: 0.9,
      checks: expect.stringContaining("Embers"),
    });
    expect(rows[0]?.why?.isOpen).toBe(true);
    expect(logRows(told, found, capital, 2)).toHaveLength(2);
  });

  it("says of an inferred reduction that it is one, of a measured one that it is there", () => {
    const found = [
      finding("reduction", "begin", 1000, { sensor: "gas", measure: 0.9 }),
      finding("reduction", "end", 2000, { sensor: "gas" }),
      finding("reduction", "begin", 3000, { sensor: null, confidence: 0.8 }),
      finding("reduction", "end", 4000, { sensor: null }),
    ];

    expect(logRows([], found, capital, 9).map(({ time, end, title }) => [time, end, title])).toEqual([
      [3000, 4000, "Perhaps reduction, inferred"],
      [1000, 2000, "Reduction"],
    ]);
  });

  it("tells stokes that were seen in a row as one, unless something lies between", () => {
    const stoke = (onset: number): FindingLine => finding("stoke", "event", onset, { door: "front" });
    const found = [
      stoke(3000),
      stoke(0),
      stoke(240),
      stoke(500),
      finding("fall", "begin", 2000),
      stoke(9000),
    ];

    expect(logRows([], found, capital, 9).map(({ begin, time, title }) => [begin, time, title])).toEqual([
      [null, 9000, "Stoke at the front, seen by the probes"],
      [null, 3000, "Stoke at the front, seen by the probes"],
      [null, 2000, "Temperature falling"],
      [0, 500, "3 stokes at the front seen, every 4 min"],
    ]);
  });

  it("pairs an end with its own begin only", () => {
    const found = [
      finding("sensor", "begin", 10, { fault: "open" }),
      finding("sensor", "begin", 20, { fault: "drift" }),
      finding("sensor", "end", 30, { fault: "open" }),
      finding("sensor", "begin", 40, { fault: "open" }),
    ];

    expect(logRows([], found, capital, 9).map(({ time, end }) => [time, end])).toEqual([
      [40, null],
      [20, null],
      [10, 30],
    ]);
  });

  it("says how sure without arithmetic", () => {
    expect(sureWords(0.97)).toBe("Such a finding is nearly always right.");
    expect(sureWords(0.72)).toBe("Such a finding is right about 7 times in 10.");
    expect(sureWords(0.01)).toBe("Such a finding is right about 1 time in 10.");
  });
});
