/** Degrees Celsius become what the reader wants to see; every number leaves here with its unit. */

export type Unit = "C" | "F";

export function temperatureIn(unit: Unit, celsius: number): number {
  return unit === "F" ? celsius * 1.8 + 32 : celsius;
}

/** Convert a rate or a difference: 1.8 without 32. */
export function differenceIn(unit: Unit, celsius: number): number {
  return unit === "F" ? celsius * 1.8 : celsius;
}

export function unitSign(unit: Unit): string {
  return unit === "F" ? "°F" : "°C";
}

function whole(number: number): string {
  const rounded = Math.round(number);
  return String(rounded === 0 ? 0 : rounded).replace("-", "−");
}

/** A temperature as a whole number without its unit, for the big figures that have it beside them. */
export function temperatureFigure(unit: Unit, celsius: number | null): string {
  return celsius === null ? "–" : whole(temperatureIn(unit, celsius));
}

export function temperatureText(unit: Unit, celsius: number | null): string {
  return `${temperatureFigure(unit, celsius)} ${unitSign(unit)}`;
}

/** A climb as "+42 ± 3 °C/h"; the sign is always told. */
export function climbText(unit: Unit, cPerHour: number, uncertaintyCPerHour: number | null): string {
  const rate = whole(differenceIn(unit, cPerHour));
  const signed = rate.startsWith("−") || rate === "0" ? rate : `+${rate}`;
  const doubt = uncertaintyCPerHour === null ? null : differenceIn(unit, uncertaintyCPerHour);
  const spread = doubt === null ? "" : ` ± ${doubt < 0.95 ? doubt.toFixed(1) : whole(doubt)}`;
  return `${signed}${spread} ${unitSign(unit)}/h`;
}
