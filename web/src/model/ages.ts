/** How old things are, in real seconds: the service's own figure plus what has passed here on the monotonic clock. */
import type { AlarmLine } from "./messages.js";
import type { Held, HeldValue } from "./state.js";

/** Seconds without any message at which the link is called late. */
export const LATE_S = 5;
/** Seconds without any message at which the picture is hatched; also the age at which one sensor's number is. */
export const DEAD_S = 15;
/** Seconds without any message at which the panel sounds by itself. */
export const DEAD_SOUND_S = 30;
/** Seconds without any message at which the lost link becomes a matter of priority 1. */
export const DEAD_URGENT_S = 300;
/** Ages up to this many seconds are not worth a word. */
export const AGE_SHOWN_S = 5;

export type LinkState = "live" | "late" | "dead";

export function linkState(heardMs: number, nowMs: number): LinkState {
  const silentS = (nowMs - heardMs) / 1000;
  if (silentS >= DEAD_S) return "dead";
  return silentS >= LATE_S ? "late" : "live";
}

/** Age of a value in seconds, null before its first scan. */
export function ageOf(value: HeldValue, nowMs: number): number | null {
  return value.age_s === null ? null : value.age_s + (nowMs - value.receivedMs) / 1000;
}

/** The record's clock now, epoch seconds; it runs `speed` times as fast as life. */
export function clockOf(held: Held, nowMs: number): number {
  return held.clock + ((nowMs - held.clockReceivedMs) / 1000) * held.snapshot.speed;
}

/** Seconds of the record since an alarm began. */
export function sinceOf(alarm: AlarmLine, held: Held, nowMs: number): number {
  return alarm.since_s + ((nowMs - held.alarmsReceivedMs) / 1000) * held.snapshot.speed;
}

/** Seconds for which an alarm stays put off, as people wait. */
export function leftOf(alarm: AlarmLine, held: Held, nowMs: number): number {
  return (alarm.shelved_s ?? 0) - (nowMs - held.alarmsReceivedMs) / 1000;
}
