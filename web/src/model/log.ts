/** The log: what a person tells of what was done, kept here until the service has it, and its words. */
import type { EntryLine, FindingLine } from "./messages.js";
import { strings } from "./strings.en.js";

export type Door = "front" | "side";

/** What can be told with one tap. */
export type Deed =
  | { what: "stoked"; door: Door; note?: null }
  | { what: "closed-up" | "fired-on" | "present"; door: null; note?: null }
  /** A point, an answer or a voice: "handover/drink", "phase/closed-up", "panel/yes". */
  | { what: "ticked" | "answered" | "heard"; door: null; note: string };

/** A tap that the service has not confirmed yet; `tappedMs` is the page's monotonic clock. */
export interface Waiting {
  id: string;
  deed: Deed;
  who: string | null;
  tappedMs: number;
}

/** The body of `POST /api/entries`. */
export interface ToldEntry {
  id: string;
  what: Deed["what"];
  door: Door | null;
  ago_s: number;
  who: string | null;
  note: string | null;
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
    last.deed.note === tap.deed.note &&
    tap.tappedMs - last.tappedMs < BOUNCE_MS;
  return isBounce ? null : [...waiting, tap];
}

export function toldEntry(one: Waiting, nowMs: number): ToldEntry {
  return {
    id: one.id,
    what: one.deed.what,
    door: one.deed.door,
    ago_s: Math.max(0, (nowMs - one.tappedMs) / 1000),
    who: one.who,
    note: one.deed.note ?? null,
  };
}

/** Sixteen hexadecimal digits of random `bytes` (8): the same tap sent twice is one entry. */
export function idOf(bytes: Uint8Array): string {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export function deedWords(what: string, door: string | null, note?: string | null): string {
  const words = strings.log;
  if (what !== "stoked") return (words.deeds[what] ?? what) + (note == null ? "" : `: ${note}`);
  return words.stoked[door ?? ""] ?? words.stokedSomewhere;
}

/** When the kiln was closed up, null while it is fired or where that lies too long ago to be held. */
export function closedSince(entries: readonly EntryLine[], closedUp: boolean): number | null {
  const found = closedUp ? entries.findLast(({ what }) => what === "closed-up") : undefined;
  return found?.time ?? null;
}

/** A line of the log: what people told and what was found, by when it was or began. */
export interface Row {
  key: string;
  time: number;
  /** When the first of several was, `time` then being the last; else null. */
  begin: number | null;
  /** When it was over, null where it is not, or where it was but a moment. */
  end: number | null;
  title: string;
  who: string | null;
  /** What a finding says of itself; null for what a person told, and for a stoke. */
  why: Why | null;
}

export interface Why {
  isOpen: boolean;
  text: string;
  known: number;
  /** How often such a finding is right, 0 to 1; null where that was not measured. */
  confidence: number | null;
  checks: string | null;
}

/** Charges so near to each other are one stoke. */
const ONE_STOKE_S = 75;
/** Stokes further apart than this are no row of stokes. */
const LULL_S = 3600;

/** Entries and findings as one list, newest first, at most so many. */
export function logRows(
  entries: readonly EntryLine[],
  findings: readonly FindingLine[],
  nameOfSensor: (id: string) => string,
  most: number,
): Row[] {
  const told = entries.map((entry) => ({
    key: entry.id,
    time: entry.time,
    begin: null,
    end: null,
    title: deedWords(entry.what, entry.door, entry.note),
    who: entry.who,
    why: null,
  }));
  const stoked = entries.filter(({ what }) => what === "stoked");
  const isTold = (one: FindingLine): boolean =>
    stoked.some(({ time, door }) => door === one.door && Math.abs(time - one.onset) < ONE_STOKE_S);
  const spans = findings
    .filter(({ kind, state }) => kind !== "stoke" && state === "begin")
    .map((one) => spanRow(one, findings, nameOfSensor));
  const others = [...told, ...spans];
  const seen = seenRows(
    findings.filter((one) => one.kind === "stoke" && !isTold(one)),
    others.map(({ time }) => time),
  );
  return [...others, ...seen].sort((a, b) => b.time - a.time).slice(0, most);
}

/** Stokes that were seen, those in a row as one: `between` are moments of other rows. */
function seenRows(stokes: readonly FindingLine[], between: readonly number[]): Row[] {
  const inOrder = [...stokes].sort((a, b) => a.onset - b.onset);
  const runs: FindingLine[][] = [];
  for (const one of inOrder) {
    const run = runs.at(-1);
    const last = run?.at(-1);
    const joins =
      last !== undefined &&
      last.door === one.door &&
      one.onset - last.onset < LULL_S &&
      !between.some((time) => time > last.onset && time <= one.onset);
    if (run !== undefined && joins) run.push(one);
    else runs.push([one]);
  }
  return runs.map((run) => seenRow(run));
}

function seenRow(run: readonly FindingLine[]): Row {
  const words = strings.log;
  const [first, last] = [run[0]?.onset ?? 0, run.at(-1)?.onset ?? 0];
  const door = run[0]?.door ?? "";
  const every = Math.round((last - first) / 60 / Math.max(1, run.length - 1));
  return {
    key: `seen ${first}`,
    time: last,
    begin: run.length > 1 ? first : null,
    end: null,
    title:
      run.length > 1
        ? words.seenMany(run.length, words.where[door] ?? "", every)
        : (words.seen[door] ?? words.seenSomewhere),
    who: null,
    why: null,
  };
}

function spanRow(
  one: FindingLine,
  findings: readonly FindingLine[],
  nameOfSensor: (id: string) => string,
): Row {
  const words = strings.log;
  const key = `${one.time} ${one.kind} ${one.sensor} ${one.fault}`;
  const end = findings.find(
    ({ kind, state, sensor, fault, time }) =>
      kind === one.kind &&
      state === "end" &&
      sensor === one.sensor &&
      fault === one.fault &&
      time >= one.time,
  );
  const isInferred = one.kind === "reduction" && one.confidence !== null;
  const title = isInferred ? words.inferredReduction : (words.kinds[one.kind] ?? one.kind);
  const why: Why = {
    isOpen: end === undefined,
    text: one.text,
    known: one.time,
    confidence: one.confidence,
    checks: words.checks[one.kind] ?? null,
  };
  const where = one.kind === "sensor" && one.sensor !== null ? `: ${nameOfSensor(one.sensor)}` : "";
  return {
    key,
    time: one.onset,
    begin: null,
    end: end?.onset ?? null,
    title: `${title}${where}`,
    who: null,
    why,
  };
}

/** How sure something is, in words that need no arithmetic at night. */
export function sureWords(confidence: number): string {
  const times = Math.round(confidence * 10);
  return times >= 10 ? strings.log.sure : strings.log.sureTimes(Math.max(1, times));
}
