import { describe, expect, it } from "vitest";
import { ageOf, clockOf, leftOf, linkState, sinceOf } from "./ages.js";
import { alarm, snapshot, value } from "./examples.js";
import { type Held, takeMessage } from "./state.js";

function held(speed: number): Held {
  const taken = takeMessage(null, snapshot({ speed }), 1000).held;
  if (taken === null) throw new Error("a snapshot is always taken");
  return taken;
}

describe("ages", () => {
  it.each([
    [0, "live"],
    [4.9, "live"],
    [5, "late"],
    [14.9, "late"],
    [15, "dead"],
    [3600, "dead"],
  ])("calls a link silent for %s s %s", (silent, state) => {
    expect(linkState(2000, 2000 + silent * 1000)).toBe(state);
  });

  it("adds what has passed here to the age that the service told", () => {
    expect(ageOf({ ...value("front", 900, { age_s: 2.5 }), receivedMs: 1000 }, 4000)).toBe(5.5);
    expect(ageOf({ ...value("front", null, { age_s: null }), receivedMs: 1000 }, 4000)).toBeNull();
  });

  it("lets the record's clock run at its speed, and ages at life's", () => {
    expect(clockOf(held(60), 3000)).toBe(1000 + 120);
    expect(clockOf(held(1), 3000)).toBe(1002);
    expect(sinceOf(alarm("fall", { since_s: 10 }), held(60), 3000)).toBe(130);
  });

  it("counts down for how long an alarm stays put off, as people wait", () => {
    expect(leftOf(alarm("a", { shelved_s: 900 }), held(60), 61_000)).toBe(840);
    expect(leftOf(alarm("a"), held(1), 1000)).toBe(0);
  });
});
