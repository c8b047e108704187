/* Conversions as in NIST SP 811 (2008), appendix B.8: t/degF = 1.8 t/degC + 32, differences by 1.8 alone. */
import { describe, expect, it } from "vitest";
import {
  climbText,
  differenceIn,
  temperatureFigure,
  temperatureIn,
  temperatureText,
  unitSign,
} from "./units.js";

describe("units", () => {
  it.each([
    [-40, -40],
    [0, 32],
    [100, 212],
    [1000, 1832],
    [1280, 2336],
  ])("turns %s degC into %s degF", (celsius, fahrenheit) => {
    expect(temperatureIn("F", celsius)).toBeCloseTo(fahrenheit, 9);
    expect(temperatureIn("C", celsius)).toBe(celsius);
  });

  it("turns a difference by 1.8 without 32", () => {
    expect(differenceIn("F", 100)).toBe(180);
    expect(differenceIn("C", 100)).toBe(100);
  });

  it("writes temperatures whole and with their unit", () => {
    expect(temperatureFigure("C", 1013.6)).toBe("1014");
    expect(temperatureFigure("C", -0.4)).toBe("0");
    expect(temperatureFigure("C", null)).toBe("–");
    expect(temperatureText("F", 1013.6)).toBe("1856 °F");
    expect(unitSign("C")).toBe("°C");
  });

  it.each([
    ["C", 32, 3.2, "+32 ± 3 °C/h"],
    ["F", 32, 3.2, "+58 ± 6 °F/h"],
    ["C", -14.4, 0.42, "−14 ± 0.4 °C/h"],
    ["C", 0.3, null, "0 °C/h"],
    ["C", -0.3, null, "0 °C/h"],
  ] as const)("writes a climb in deg%s: %s ± %s as %s", (unit, rate, doubt, words) => {
    expect(climbText(unit, rate, doubt)).toBe(words);
  });
});
