/** The log: what a person tells of what was done, kept here until the service has it, and its words. */
import type { EntryLine } from "./messages.js";
import { strings } from "./strings.en.js";

export type Door = "front" | "side";

/** What can be told with one tap. */
export type Deed = { what: "stoked"; door: Door } | { what: "closed-up" | "fired-on"; door: null };

/** A tap that the service has not confirmed yet; `tappedMs` is the page's monotonic clock. */
export interface Waiting {
  id: string;
  deed: Deed;
  tappedMs: number;
}

/** The body of `POST /api/entries`. */
export interface ToldEntry {
  id: string;
  what: Deed["what"];
  door: Door | null;
  ago_s: number;
}

/** A second tap so soon is the same one: a glove bounces. */
export const BOUNCE_MS = 2000;

/** What was told and not confirmed, newest last; null where the tap is a bounce. */
export function withTap(
  waiting: readonly Waiting[],
  tap: Waiting,
  last: { deed: Deed; tappedMs: number } | null,
): readonly Waiting[] | null {
  const isBounce =
    last !== null &&
    last.deed.what === tap.deed.what &&
    last.deed.door === tap.deed.door &&
    tap.tappedMs - last.tappedMs < BOUNCE_MS;
  return isBounce ? null : [...waiting, tap];
}

export function toldEntry(one: Waiting, nowMs: number): ToldEntry {
  return {
    id: one.id,
    what: one.deed.what,
    door: one.deed.door,
    ago_s: Math.max(0, (nowMs - one.tappedMs) / 1000),
  };
}

/** Sixteen hexadecimal digits of random `bytes` (8): the same tap sent twice is one entry. */
export function idOf(bytes: Uint8Array): string {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export function deedWords(what: string, door: string | null): string {
  const words = strings.log;
  if (what !== "stoked") return words.deeds[what] ?? what;
  return words.stoked[door ?? ""] ?? words.stokedSomewhere;
}

/** When the kiln was closed up, null while it is fired or where that lies too long ago to be held. */
export function closedSince(entries: readonly EntryLine[], closedUp: boolean): number | null {
  const found = closedUp ? entries.findLast(({ what }) => what === "closed-up") : undefined;
  return found?.time ?? null;
}
