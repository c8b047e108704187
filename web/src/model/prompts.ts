/** Prompts: what a tap on one tells, whether it still waits to be stored, and which of them are new. */
import type { Deed, Waiting } from "./log.js";
import type { PromptLine } from "./messages.js";

/** The prompt that any word of a person answers. */
export const SIGN_OF_LIFE_KEY = "sign-of-life";

export function tickOf(prompt: PromptLine, point: string): Deed {
  return { what: "ticked", door: null, note: `${prompt.key}/${point}` };
}

export function answerOf(prompt: PromptLine, answer: string): Deed {
  if (prompt.key === SIGN_OF_LIFE_KEY) return { what: "present", door: null };
  return { what: "answered", door: null, note: `${prompt.key}/${answer}` };
}

/** Whether this very tap, or with another answer, is not yet stored. */
export function isTold(waiting: readonly Waiting[], deed: Deed): boolean {
  return waiting.some(({ deed: { what, note } }) => what === deed.what && note === deed.note);
}

/** Whether a prompt came that two short notes announce. */
export function chimes(before: readonly PromptLine[], now: readonly PromptLine[]): boolean {
  return now.some(({ key, chime }) => chime && !before.some((one) => one.key === key));
}
