import { describe, expect, it } from "vitest";
import { BOUNCE_MS, closedSince, deedWords, idOf, toldEntry, type Waiting, withTap } from "./log.js";
import type { EntryLine } from "./messages.js";

const front: Waiting = { id: "a", deed: { what: "stoked", door: "front" }, tappedMs: 1000 };
const entry = (what: string, time: number): EntryLine => ({
  id: String(time),
  time,
  what,
  door: null,
  who: null,
});

describe("log", () => {
  it("keeps a tap until it is confirmed, and lets a glove bounce", () => {
    const again: Waiting = { ...front, id: "b", tappedMs: 1000 + BOUNCE_MS - 1 };
    const later: Waiting = { ...front, id: "c", tappedMs: 1000 + BOUNCE_MS };
    const side: Waiting = { id: "d", deed: { what: "stoked", door: "side" }, tappedMs: 1001 };

    expect(withTap([], front, null)).toEqual([front]);
    expect(withTap([front], again, front)).toBeNull();
    expect(withTap([front], later, front)).toEqual([front, later]);
    expect(withTap([front], side, front)).toEqual([front, side]);
  });

  it("tells how long ago the tap was, however long the link was cut", () => {
    expect(toldEntry(front, 61_500)).toEqual({ id: "a", what: "stoked", door: "front", ago_s: 60.5 });
    expect(toldEntry(front, 900).ago_s).toBe(0);
  });

  it("names a tap by its random bytes", () => {
    expect(idOf(Uint8Array.of(0, 1, 15, 16, 171, 205, 239, 255))).toBe("00010f10abcdefff");
  });

  it("says what was done", () => {
    expect(deedWords("stoked", "side")).toBe("Stoked at the side");
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
});
