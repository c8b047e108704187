/** What the person at this screen has chosen, as text that survives a reload. The kiln's state is never kept here. */
import type { Unit } from "./units.js";

export type Look = "day" | "night";
export type Span = "firing" | "six-hours" | "hour";
export type Sheet =
  | "now"
  | "alarms"
  | "curves"
  | "reminders"
  | "practice"
  | "report"
  | "heat"
  | "log"
  | "help"
  | "proof"
  | "load";

export interface Choices {
  look: Look;
  unit: Unit;
  span: Span;
  sheet: Sheet;
  /** The sensor whose curve is bold; null follows the guide. */
  chosen: string | null;
  /** The temperature that the outlook is asked for, degC; null for the top of the plan. */
  wantedC: number | null;
  /** The cone that it is asked for. */
  cone: string;
  /** Who is at this screen: taps carry the name. */
  who: string | null;
}

/** Longest name that the service keeps is longer; a key has room for so much. */
export const WHO_CHARS = 40;

/** The key in the browser's local storage; the page's first script reads the look from it before anything is drawn. */
export const CHOICES_KEY = "nightstoke.choices";

export const usualChoices: Choices = {
  look: "day",
  unit: "C",
  span: "six-hours",
  sheet: "now",
  chosen: null,
  wantedC: null,
  cone: "10",
  who: null,
};

const allowed = {
  look: ["day", "night"],
  unit: ["C", "F"],
  span: ["firing", "six-hours", "hour"],
  sheet: [
    "now",
    "alarms",
    "curves",
    "reminders",
    "practice",
    "report",
    "heat",
    "log",
    "help",
    "proof",
    "load",
  ],
} as const;

function oneOf<T extends string>(options: readonly T[], found: unknown, usual: T): T {
  return options.find((option) => option === found) ?? usual;
}

/** Read stored choices; whatever is missing or unknown gets its usual value. */
export function readChoices(stored: string | null): Choices {
  let found: Partial<Record<keyof Choices, unknown>> = {};
  try {
    const parsed: unknown = JSON.parse(stored ?? "{}");
    if (typeof parsed === "object" && parsed !== null) found = parsed;
  } catch {
    // Broken storage is no reason to show nothing: the usual choices serve.
  }
  return {
    look: oneOf(allowed.look, found.look, usualChoices.look),
    unit: oneOf(allowed.unit, found.unit, usualChoices.unit),
    span: oneOf(allowed.span, found.span, usualChoices.span),
    sheet: oneOf(allowed.sheet, found.sheet, usualChoices.sheet),
    chosen: typeof found.chosen === "string" ? found.chosen : null,
    wantedC:
      typeof found.wantedC === "number" && found.wantedC >= 0 && found.wantedC <= 2000 ? found.wantedC : null,
    cone: typeof found.cone === "string" && /^0?\d\d?$/.test(found.cone) ? found.cone : usualChoices.cone,
    who:
      typeof found.who === "string" && found.who.trim() !== "" ? found.who.trim().slice(0, WHO_CHARS) : null,
  };
}

export function writeChoices(choices: Choices): string {
  return JSON.stringify(choices);
}
