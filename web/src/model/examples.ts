/** Small made-up messages for the tests of this folder. */
import type { AlarmLine, Frame, PromptLine, Snapshot, Value } from "./messages.js";
import type { Practice } from "./practice_messages.js";

export function value(sensor: string, celsius: number | null, other: Partial<Value> = {}): Value {
  return {
    sensor,
    celsius,
    status: "ok",
    quality: "good",
    age_s: 0.5,
    climb_c_per_h: 30,
    climb_uncertainty_c_per_h: 3,
    ...other,
  };
}

export function alarm(key: string, other: Partial<AlarmLine> = {}): AlarmLine {
  return {
    key,
    row: key,
    priority: 2,
    active: true,
    acked: false,
    no_data: false,
    since: 0,
    since_s: 10,
    acked_by: null,
    sensor: null,
    title: key,
    text: "",
    cause: "",
    consequence: "",
    action: "",
    act_in_s: 300,
    shelved_s: null,
    shelved_by: null,
    shelved_why: null,
    shelve_most_s: 900,
    first: false,
    escalation: 0,
    ...other,
  };
}

export function prompt(key: string, other: Partial<PromptLine> = {}): PromptLine {
  return {
    key,
    title: key,
    text: "",
    since: 0,
    since_s: 10,
    chime: false,
    points: [],
    answers: [],
    ...other,
  };
}

export function snapshot(other: Partial<Snapshot> = {}): Snapshot {
  return {
    kind: "snapshot",
    epoch: "one",
    seq: 10,
    clock: 1000,
    speed: 1,
    test: null,
    kiln: { name: "Demo kiln", id: "demo-kiln", time_zone: "UTC" },
    firing: { id: "f", begun: 0, ended: null },
    plan: null,
    guide: "middle",
    sensors: [
      { id: "front", place: "front", type: "K", input: "n/t1" },
      { id: "middle", place: "middle", type: "K", input: "n/t2" },
    ],
    values: [value("front", 900), value("middle", 880)],
    alarms: [],
    silenced_s: 0,
    findings: [],
    last_stoke: null,
    links: { node_age_s: {}, counters: {}, store_error: null, source_error: {}, panels_with_sound: 1 },
    entries: [],
    closed_up: false,
    prompts: [],
    help: null,
    practice: null,
    ...other,
  };
}

export function frame(seq: number, other: Partial<Frame> = {}): Frame {
  return {
    kind: "frame",
    epoch: "one",
    seq,
    clock: 1000 + seq,
    values: [],
    alarms: null,
    silenced_s: null,
    findings: [],
    guide: null,
    last_stoke: null,
    links: null,
    firing: null,
    entries: [],
    closed_up: null,
    prompts: null,
    practice: null,
    ...other,
  };
}

export function practice(other: Partial<Practice> = {}): Practice {
  return {
    kind: "practice",
    in_hand: true,
    begun: 900,
    stokes: 2,
    wood_kg: 5.2,
    last_stoke: 940,
    lead: {
      stage: "high-fire",
      interval_min: 4,
      climb_c_per_h: 20,
      usual_kg: 2.6,
      side_every_min: 0,
      side_ports: [],
    },
    sight: { spyhole: "short", flue: "none", smoke: "clear", embers: "good", looked: 940 },
    settings: { damper: 0.8, primary: 0.213, secondary: 0.4 },
    notches: [0, 0.1, 0.2, 0.4, 0.8, 1],
    ports: [{ zone: "front-1", place: "front" }],
    last: null,
    report: null,
    version: 1,
    ...other,
  };
}
