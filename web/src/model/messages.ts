/**
 * The messages between service and panel, the mirror of `monitor/publish/messages.py`; `tests/golden/messages` holds
 * one example of each that both read. Degrees Celsius, seconds and degC/h; ages count at the moment of sending.
 */
import {
  BadMessage,
  type Check,
  listOf,
  literal,
  mapOf,
  number,
  orElse,
  orNull,
  pair,
  record,
  text,
  truth,
} from "./check.js";
import { type Practice, practice } from "./practice_messages.js";

export interface Kiln {
  name: string;
  id: string;
  time_zone: string;
}

export interface Sensor {
  id: string;
  place: string;
  type: string | null;
  input: string;
}

export interface PlanLine {
  points: [number, number][];
  guide: string;
}

export interface Firing {
  id: string;
  begun: number;
  ended: number | null;
}

export interface Value {
  sensor: string;
  celsius: number | null;
  status: string;
  quality: string;
  age_s: number | null;
  climb_c_per_h: number | null;
  climb_uncertainty_c_per_h: number | null;
}

export interface FindingLine {
  time: number;
  kind: string;
  state: string;
  sensor: string | null;
  onset: number;
  measure: number | null;
  unit: string | null;
  text: string;
  fault: string | null;
  door: string | null;
  ratio: number | null;
  confidence: number | null;
}

/** What a person told: `what` was done at `time`, through `door` (front, side); `note` names a point, answer or voice. */
export interface EntryLine {
  id: string;
  time: number;
  what: string;
  door: string | null;
  who: string | null;
  note: string | null;
}

export interface AlarmLine {
  key: string;
  row: string;
  priority: number;
  active: boolean;
  acked: boolean;
  no_data: boolean;
  since: number;
  since_s: number;
  acked_by: string | null;
  sensor: string | null;
  title: string;
  text: string;
  cause: string;
  consequence: string;
  action: string;
  act_in_s: number;
  /** For how long it stays put off, null where it is not; with who did it and why. */
  shelved_s: number | null;
  shelved_by: string | null;
  shelved_why: string | null;
  /** The longest that it may be put off, 0 for never. */
  shelve_most_s: number;
  /** Whether it came first of several that are active. */
  first: boolean;
  /** How far it was carried while nobody saw it: 1 louder and to the house, 2 to the next person. */
  escalation: number;
}

/** A point of a reminder; `ticked_s` seconds ago `ticked_by` ticked it. */
export interface PromptPoint {
  id: string;
  text: string;
  ticked_by: string | null;
  ticked_s: number | null;
}

export interface PromptAnswer {
  id: string;
  text: string;
}

/** Something expected of people now: points that are ticked by name, or a question with answers. */
export interface PromptLine {
  key: string;
  title: string;
  text: string;
  since: number;
  since_s: number;
  chime: boolean;
  points: PromptPoint[];
  answers: PromptAnswer[];
}

/** What whoever calls for help must know; `people` are names with phone numbers. */
export interface Help {
  number: string;
  address: string;
  directions: string;
  people: [string, string][];
}

export interface Links {
  node_age_s: Record<string, number>;
  counters: Record<string, number>;
  store_error: string | null;
  source_error: Record<string, string>;
  panels_with_sound: number;
}

export interface Snapshot {
  kind: "snapshot";
  epoch: string;
  seq: number;
  clock: number;
  speed: number;
  test: string | null;
  kiln: Kiln;
  firing: Firing | null;
  plan: PlanLine | null;
  guide: string | null;
  sensors: Sensor[];
  values: Value[];
  alarms: AlarmLine[];
  silenced_s: number;
  findings: FindingLine[];
  last_stoke: number | null;
  links: Links;
  entries: EntryLine[];
  closed_up: boolean;
  prompts: PromptLine[];
  help: Help | null;
  practice: Practice | null;
}

export interface Frame {
  kind: "frame";
  epoch: string;
  seq: number;
  clock: number;
  values: Value[];
  alarms: AlarmLine[] | null;
  silenced_s: number | null;
  findings: FindingLine[];
  guide: string | null;
  last_stoke: number | null;
  links: Links | null;
  firing: Firing | null;
  entries: EntryLine[];
  closed_up: boolean | null;
  prompts: PromptLine[] | null;
  practice: Practice | null;
}

export interface Heartbeat {
  kind: "heartbeat";
  epoch: string;
  seq: number;
  clock: number;
  engine: number;
}

export interface Hello {
  kind: "hello";
  epoch: string | null;
  seq: number | null;
}

export interface Report {
  kind: "report";
  sound: "running" | "off";
  visible: boolean;
  battery: number | null;
}

export type ToPanel = Snapshot | Frame | Heartbeat;
export type FromPanel = Hello | Report;

const kiln = record<Kiln>({ name: text, id: text, time_zone: text });
const sensor = record<Sensor>({ id: text, place: text, type: orNull(text), input: text });
const planLine = record<PlanLine>({ points: listOf(pair(number, number)), guide: text });
const firing = record<Firing>({ id: text, begun: number, ended: orNull(number) });
const value = record<Value>({
  sensor: text,
  celsius: orNull(number),
  status: text,
  quality: text,
  age_s: orNull(number),
  climb_c_per_h: orNull(number),
  climb_uncertainty_c_per_h: orNull(number),
});
const findingLine = record<FindingLine>({
  time: number,
  kind: text,
  state: text,
  sensor: orNull(text),
  onset: number,
  measure: orNull(number),
  unit: orNull(text),
  text,
  fault: orElse(orNull(text), null),
  door: orElse(orNull(text), null),
  ratio: orElse(orNull(number), null),
  confidence: orElse(orNull(number), null),
});
const entryLine = record<EntryLine>({
  id: text,
  time: number,
  what: text,
  door: orNull(text),
  who: orNull(text),
  note: orElse(orNull(text), null),
});
const alarmLine = record<AlarmLine>({
  key: text,
  row: text,
  priority: number,
  active: truth,
  acked: truth,
  no_data: truth,
  since: number,
  since_s: number,
  acked_by: orNull(text),
  sensor: orNull(text),
  title: text,
  text,
  cause: text,
  consequence: text,
  action: text,
  act_in_s: number,
  shelved_s: orElse(orNull(number), null),
  shelved_by: orElse(orNull(text), null),
  shelved_why: orElse(orNull(text), null),
  shelve_most_s: orElse(number, 0),
  first: orElse(truth, false),
  escalation: orElse(number, 0),
});
const promptLine = record<PromptLine>({
  key: text,
  title: text,
  text,
  since: number,
  since_s: number,
  chime: truth,
  points: orElse(
    listOf(
      record<PromptPoint>({
        id: text,
        text,
        ticked_by: orElse(orNull(text), null),
        ticked_s: orElse(orNull(number), null),
      }),
    ),
    [],
  ),
  answers: orElse(listOf(record<PromptAnswer>({ id: text, text })), []),
});
const help = record<Help>({
  number: text,
  address: text,
  directions: text,
  people: listOf(pair(text, text)),
});
const links = record<Links>({
  node_age_s: mapOf(number),
  counters: mapOf(number),
  store_error: orNull(text),
  source_error: mapOf(text),
  panels_with_sound: number,
});

const snapshot = record<Snapshot>({
  kind: literal("snapshot"),
  epoch: text,
  seq: number,
  clock: number,
  speed: number,
  test: orNull(text),
  kiln,
  firing: orNull(firing),
  plan: orNull(planLine),
  guide: orNull(text),
  sensors: listOf(sensor),
  values: listOf(value),
  alarms: listOf(alarmLine),
  silenced_s: number,
  findings: listOf(findingLine),
  last_stoke: orNull(number),
  links,
  entries: listOf(entryLine),
  closed_up: truth,
  prompts: orElse(listOf(promptLine), []),
  help: orElse(orNull(help), null),
  practice: orNull(practice),
});

const frame = record<Frame>({
  kind: literal("frame"),
  epoch: text,
  seq: number,
  clock: number,
  values: orElse(listOf(value), []),
  alarms: orElse(orNull(listOf(alarmLine)), null),
  silenced_s: orElse(orNull(number), null),
  findings: orElse(listOf(findingLine), []),
  guide: orElse(orNull(text), null),
  last_stoke: orElse(orNull(number), null),
  links: orElse(orNull(links), null),
  firing: orElse(orNull(firing), null),
  entries: orElse(listOf(entryLine), []),
  closed_up: orElse(orNull(truth), null),
  prompts: orElse(orNull(listOf(promptLine)), null),
  practice: orElse(orNull(practice), null),
});

const heartbeat = record<Heartbeat>({
  kind: literal("heartbeat"),
  epoch: text,
  seq: number,
  clock: number,
  engine: number,
});

const byKind: Record<string, Check<ToPanel>> = { snapshot, frame, heartbeat };

/** Read one message of the service; throws `BadMessage` naming the field that is wrong. */
export function readMessage(json: string): ToPanel {
  const found: unknown = JSON.parse(json);
  const kind = (found as { kind?: unknown } | null)?.kind;
  const check = typeof kind === "string" ? byKind[kind] : undefined;
  if (check === undefined) throw new BadMessage(`kind: ${JSON.stringify(kind)} is unknown`);
  return check(found, String(kind));
}

/** Read the card for emergencies as a panel has kept it; throws where it is none. */
export function readHelp(json: string | null): Help | null {
  return orNull(help)(JSON.parse(json ?? "null"), "help");
}

export function writeMessage(message: FromPanel): string {
  return JSON.stringify(message);
}
