/** Which alarm comes first, and what should be heard now. */
import { DEAD_S, DEAD_SOUND_S, DEAD_URGENT_S } from "./ages.js";
import type { AlarmLine } from "./messages.js";
import { strings } from "./strings.en.js";

/** The key of the alarm that this page raises by itself when it hears nothing. */
export const LINK_KEY = "panel:link";

/** Seconds for which one tap silences all sound. */
export const SILENCE_S = 60;

const PUT_OFF_STEPS_S = [300, 900, 3600] as const;

export type Voice = "first" | "second" | "third" | "prompt" | "none";

/** What stands first: what is put off last; then unseen before seen, then the lower priority number, then what still lasts, then the older. */
export function inOrder(alarms: readonly AlarmLine[]): AlarmLine[] {
  return [...alarms].sort(
    (a, b) =>
      Number(a.shelved_s !== null) - Number(b.shelved_s !== null) ||
      Number(a.acked) - Number(b.acked) ||
      a.priority - b.priority ||
      Number(b.active) - Number(a.active) ||
      b.since_s - a.since_s,
  );
}

/** The alarm of a link without a sign of life for `silentS` seconds, or null while it lives. */
export function linkAlarm(silentS: number, seen: boolean): AlarmLine | null {
  if (silentS < DEAD_S) return null;
  const words = strings.linkAlarm;
  return {
    key: LINK_KEY,
    row: "link-lost",
    priority: silentS >= DEAD_URGENT_S ? 1 : 2,
    active: true,
    acked: seen,
    no_data: false,
    since: 0,
    since_s: silentS,
    acked_by: null,
    sensor: null,
    title: words.title,
    text: words.text,
    cause: words.cause,
    consequence: words.consequence,
    action: words.action,
    act_in_s: 300,
    shelved_s: null,
    shelved_by: null,
    shelved_why: null,
    shelve_most_s: 0,
    first: false,
    escalation: 0,
  };
}

/** Each alarm that calls for sound now, as key and priority: active, not seen, not put off, and the link's own only after 30 s. */
export function calling(alarms: readonly AlarmLine[], linkSilentS: number): Map<string, number> {
  const voices = new Map<string, number>();
  for (const alarm of alarms) {
    const early = alarm.key === LINK_KEY && linkSilentS < DEAD_SOUND_S;
    if (alarm.active && !alarm.acked && alarm.shelved_s === null && !early)
      voices.set(alarm.key, alarm.priority);
  }
  return voices;
}

/** Whether something calls that did not call, or called less urgently, when silence was asked for. */
export function isNewOrWorse(
  now: ReadonlyMap<string, number>,
  atSilence: ReadonlyMap<string, number>,
): boolean {
  return [...now].some(([key, priority]) => priority < (atSilence.get(key) ?? Number.POSITIVE_INFINITY));
}

/** The one pattern to play for all that calls. */
export function voiceFor(calls: ReadonlyMap<string, number>): Voice {
  if (calls.size === 0) return "none";
  const worst = Math.min(...calls.values());
  if (worst <= 1) return "first";
  if (worst === 2) return "second";
  return worst === 3 ? "third" : "prompt";
}

/** Whether sound is at full gain: an urgent alarm that calls was not seen for so long that it was carried further. */
export function isLouder(alarms: readonly AlarmLine[], calls: ReadonlyMap<string, number>): boolean {
  return alarms.some(({ key, escalation }) => escalation >= 1 && calls.has(key));
}

/** For how long an alarm may be put off, in seconds: the usual steps within its longest, and that longest itself. */
export function putOffSteps(mostS: number): number[] {
  if (mostS <= 0) return [];
  return [...PUT_OFF_STEPS_S.filter((step) => step < mostS), mostS];
}
