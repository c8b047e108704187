import { describe, expect, it } from "vitest";
import { prompt } from "./examples.js";
import { answerOf, chimes, isTold, tickOf } from "./prompts.js";

describe("prompts", () => {
  it("tells a tick, an answer, and a sign of life", () => {
    expect(tickOf(prompt("handover"), "drink")).toEqual({
      what: "ticked",
      door: null,
      note: "handover/drink",
    });
    expect(answerOf(prompt("phase"), "still-fired")).toEqual({
      what: "answered",
      door: null,
      note: "phase/still-fired",
    });
    expect(answerOf(prompt("sign-of-life"), "here")).toEqual({ what: "present", door: null });
  });

  it("knows what is told and not yet stored", () => {
    const deed = tickOf(prompt("handover"), "drink");
    const waiting = [{ id: "a", deed, who: "Ana", tappedMs: 0 }];

    expect(isTold(waiting, tickOf(prompt("handover"), "drink"))).toBe(true);
    expect(isTold(waiting, tickOf(prompt("handover"), "sound"))).toBe(false);
    expect(isTold([], deed)).toBe(false);
  });

  it("chimes for what is new and asks for it, once", () => {
    const due = prompt("stoke-due");
    const question = prompt("phase", { chime: true });

    expect(chimes([], [due])).toBe(false);
    expect(chimes([due], [due, question])).toBe(true);
    expect(chimes([question], [question])).toBe(false);
  });
});
