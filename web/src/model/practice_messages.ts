/** The messages of a kiln to practise on, the mirror of `monitor/wire/practice.py`. */
import { listOf, literal, number, orNull, pair, record, text, truth } from "./check.js";

/** What the lead says: the stage, minutes between stokes (0: none), the climb wanted, kg of a usual armful. */
export interface Lead {
  stage: string;
  interval_min: number;
  climb_c_per_h: number;
  usual_kg: number;
  side_every_min: number;
  side_ports: string[];
}

/** What a person at the simulated kiln sees; the embers as they were when a door last stood open, at `looked`. */
export interface Sight {
  spyhole: string;
  flue: string;
  smoke: string;
  embers: string | null;
  looked: number | null;
}

export interface Settings {
  damper: number;
  primary: number;
  secondary: number;
}

export interface Port {
  zone: string;
  place: string;
}

export interface Done {
  time: number;
  what: string;
  zone: string | null;
  kg: number | null;
}

export interface PracticeReport {
  begun: number;
  ended: number;
  stokes: number;
  side_stokes: number;
  wood_kg: number;
  mean_interval_min: number | null;
  agreed_interval_min: number | null;
  longest_gap_min: number;
  falls: number;
  stalls: number;
  lowest_c: number;
  highest_c: number;
  warmest: [string, number];
  coldest: [string, number];
}

/** The present of a simulated kiln that a person may fire; the mirror of `monitor/wire/practice.py`. */
export interface Practice {
  kind: "practice";
  in_hand: boolean;
  begun: number | null;
  stokes: number;
  wood_kg: number;
  last_stoke: number | null;
  lead: Lead;
  sight: Sight;
  settings: Settings;
  notches: number[];
  ports: Port[];
  last: Done | null;
  report: PracticeReport | null;
  version: number;
}

export const practice = record<Practice>({
  kind: literal("practice"),
  in_hand: truth,
  begun: orNull(number),
  stokes: number,
  wood_kg: number,
  last_stoke: orNull(number),
  lead: record<Lead>({
    stage: text,
    interval_min: number,
    climb_c_per_h: number,
    usual_kg: number,
    side_every_min: number,
    side_ports: listOf(text),
  }),
  sight: record<Sight>({
    spyhole: text,
    flue: text,
    smoke: text,
    embers: orNull(text),
    looked: orNull(number),
  }),
  settings: record<Settings>({ damper: number, primary: number, secondary: number }),
  notches: listOf(number),
  ports: listOf(record<Port>({ zone: text, place: text })),
  last: orNull(record<Done>({ time: number, what: text, zone: orNull(text), kg: orNull(number) })),
  report: orNull(
    record<PracticeReport>({
      begun: number,
      ended: number,
      stokes: number,
      side_stokes: number,
      wood_kg: number,
      mean_interval_min: orNull(number),
      agreed_interval_min: orNull(number),
      longest_gap_min: number,
      falls: number,
      stalls: number,
      lowest_c: number,
      highest_c: number,
      warmest: pair(text, number),
      coldest: pair(text, number),
    }),
  ),
  version: number,
});
