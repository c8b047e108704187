import { describe, expect, it } from "vitest";
import { climbArrow, climbWord } from "./climb.js";

describe("climb", () => {
  it.each([
    [null, "unknown"],
    [5.1, "climbing"],
    [5, "standing"],
    [0, "standing"],
    [-5, "standing"],
    [-5.1, "falling"],
  ])("calls %s degC/h %s", (rate, word) => {
    expect(climbWord(rate)).toBe(word);
  });

  it("draws no arrow for what is not known", () => {
    expect(climbArrow.unknown).toBe("");
    expect(new Set(Object.values(climbArrow)).size).toBe(4);
  });
});
