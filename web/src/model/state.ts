/**
 * What the panel knows: one snapshot kept up to date by frames. Every change gets the local monotonic time `nowMs` as
 * an argument; wall clocks are never compared. Samples of the curves live in `curve.ts`, not here.
 */
import type {
  AlarmLine,
  EntryLine,
  FindingLine,
  Firing,
  Frame,
  Heartbeat,
  Hello,
  PromptLine,
  Snapshot,
  ToPanel,
  Value,
} from "./messages.js";
import type { Practice } from "./practice_messages.js";

/** A value together with when this page got it. */
export interface HeldValue extends Value {
  receivedMs: number;
}

export interface Held {
  snapshot: Snapshot;
  values: ReadonlyMap<string, HeldValue>;
  alarms: readonly AlarmLine[];
  alarmsReceivedMs: number;
  findings: readonly FindingLine[];
  /** What people told, oldest first. */
  entries: readonly EntryLine[];
  closedUp: boolean;
  /** What is expected of people now, most pressing first. */
  prompts: readonly PromptLine[];
  promptsReceivedMs: number;
  firing: Firing | null;
  guide: string | null;
  lastStoke: number | null;
  /** The simulated kiln's word to whoever may fire it; null at a real kiln. */
  practice: Practice | null;
  clock: number;
  clockReceivedMs: number;
  silencedUntilMs: number;
  seq: number;
  engine: number | null;
}

/** What became of a message: it was taken, it was an old one again, or something in between is missing. */
export type Verdict = "taken" | "repeated" | "gap";

export interface Step {
  held: Held | null;
  verdict: Verdict;
}

/** Rows of findings that are kept; the service has the rest. */
export const FINDINGS_KEPT = 200;
export const ENTRIES_KEPT = 50;

export function takeMessage(held: Held | null, message: ToPanel, nowMs: number): Step {
  if (message.kind === "snapshot") return { held: fromSnapshot(message, nowMs), verdict: "taken" };
  if (held === null || message.epoch !== held.snapshot.epoch) return { held, verdict: "gap" };
  if (message.kind === "heartbeat") return takeHeartbeat(held, message, nowMs);
  if (message.seq <= held.seq) return { held, verdict: "repeated" };
  if (message.seq > held.seq + 1) return { held, verdict: "gap" };
  return { held: withFrame(held, message, nowMs), verdict: "taken" };
}

/** The first word on a new connection: what was seen last, so that the service can go on from there. */
export function helloFor(held: Held | null): Hello {
  return { kind: "hello", epoch: held?.snapshot.epoch ?? null, seq: held?.seq ?? null };
}

function fromSnapshot(snapshot: Snapshot, nowMs: number): Held {
  return {
    snapshot,
    values: withValues(new Map(), snapshot.values, nowMs),
    alarms: snapshot.alarms,
    alarmsReceivedMs: nowMs,
    findings: snapshot.findings.slice(-FINDINGS_KEPT),
    entries: snapshot.entries,
    closedUp: snapshot.closed_up,
    prompts: snapshot.prompts,
    promptsReceivedMs: nowMs,
    firing: snapshot.firing,
    guide: snapshot.guide,
    lastStoke: snapshot.last_stoke,
    practice: snapshot.practice,
    clock: snapshot.clock,
    clockReceivedMs: nowMs,
    silencedUntilMs: nowMs + snapshot.silenced_s * 1000,
    seq: snapshot.seq,
    engine: null,
  };
}

function withFrame(held: Held, frame: Frame, nowMs: number): Held {
  return {
    ...held,
    values: withValues(held.values, frame.values, nowMs),
    alarms: frame.alarms ?? held.alarms,
    alarmsReceivedMs: frame.alarms === null ? held.alarmsReceivedMs : nowMs,
    findings: [...held.findings, ...frame.findings].slice(-FINDINGS_KEPT),
    entries: withEntries(held, frame),
    closedUp: frame.closed_up ?? held.closedUp,
    prompts: frame.prompts ?? held.prompts,
    promptsReceivedMs: frame.prompts === null ? held.promptsReceivedMs : nowMs,
    firing: frame.firing ?? held.firing,
    guide: frame.guide ?? held.guide,
    lastStoke: frame.last_stoke ?? held.lastStoke,
    practice: frame.practice ?? held.practice,
    clock: frame.clock,
    clockReceivedMs: nowMs,
    silencedUntilMs: frame.silenced_s === null ? held.silencedUntilMs : nowMs + frame.silenced_s * 1000,
    seq: frame.seq,
  };
}

/** A new firing begins without entries; one that only ended keeps its own. */
function withEntries(held: Held, frame: Frame): readonly EntryLine[] {
  const isNew = frame.firing !== null && frame.firing.id !== held.firing?.id;
  return [...(isNew ? [] : held.entries), ...frame.entries].slice(-ENTRIES_KEPT);
}

/** A heartbeat tells the number of the last message: above ours, one was lost on the way. */
function takeHeartbeat(held: Held, beat: Heartbeat, nowMs: number): Step {
  if (beat.seq > held.seq) return { held, verdict: "gap" };
  const next = { ...held, clock: beat.clock, clockReceivedMs: nowMs, engine: beat.engine };
  return { held: next, verdict: "taken" };
}

function withValues(
  before: ReadonlyMap<string, HeldValue>,
  changed: readonly Value[],
  nowMs: number,
): ReadonlyMap<string, HeldValue> {
  const after = new Map(before);
  for (const value of changed) after.set(value.sensor, { ...value, receivedMs: nowMs });
  return after;
}
