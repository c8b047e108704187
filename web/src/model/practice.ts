/** The practice: what a person may order at the simulated kiln, and its words and figures. */
import type { Done, Practice, PracticeReport } from "./practice_messages.js";
import { strings } from "./strings.en.js";
import { climbText, temperatureText, type Unit } from "./units.js";

export type Setting = "damper" | "primary" | "secondary";
export type Armful = "small" | "usual" | "big";

/** An order as `POST /api/practice` takes it. */
export type Order =
  | { what: "take-over" | "give-back" | "report" | "rake" | "look" }
  | { what: "stoke"; armful: Armful }
  | { what: "side-stoke"; zone: string }
  | { what: Setting; to: number };

export const SETTINGS: readonly Setting[] = ["damper", "primary", "secondary"];
export const ARMFULS: readonly Armful[] = ["small", "usual", "big"];

/** The next setting that a hand finds in one direction, null at the end. */
export function notchBeside(
  notches: readonly number[],
  now: number,
  direction: "open" | "close",
): number | null {
  const beyond = notches.filter((notch) => (direction === "open" ? notch > now + 1e-6 : notch < now - 1e-6));
  if (beyond.length === 0) return null;
  return direction === "open" ? Math.min(...beyond) : Math.max(...beyond);
}

export function shareText(share: number): string {
  return `${Math.round(share * 100)} %`;
}

export function kilosText(kilos: number): string {
  return `${kilos.toFixed(kilos < 10 ? 1 : 0)}\u00a0kg`;
}

/** What a zone is called: its place, or its own name where several share the place. */
export function portName(practice: Practice, zone: string): string {
  const port = practice.ports.find((one) => one.zone === zone);
  const isShared = practice.ports.filter(({ place }) => place === port?.place).length > 1;
  return port === undefined || isShared ? zone : (strings.places[port.place] ?? zone);
}

/** What the lead wants, in short sentences. */
export function leadWords({ lead, ports }: Practice, unit: Unit): string[] {
  const words = strings.practice;
  const name = (zone: string): string =>
    strings.places[ports.find((port) => port.zone === zone)?.place ?? ""] ?? zone;
  return [
    lead.interval_min > 0 ? words.every(lead.interval_min, kilosText(lead.usual_kg)) : words.noStoking,
    ...(lead.side_every_min > 0 ? [words.sideEvery(lead.side_every_min, lead.side_ports.map(name))] : []),
    words.planClimb(climbText(unit, lead.climb_c_per_h, null)),
  ];
}

/** What was done last, or null. */
export function doneWords(practice: Practice, done: Done): string {
  const words = strings.practice.done;
  const kilos = done.kg === null ? "" : kilosText(done.kg);
  if (done.what === "stoke") return words.stoke(kilos);
  if (done.what === "side-stoke") return words.side(portName(practice, done.zone ?? ""), kilos);
  const setting = SETTINGS.find((one) => one === done.what);
  if (setting !== undefined) {
    return `${strings.practice.settings[setting]} ${shareText(practice.settings[setting])}`;
  }
  return done.what === "rake" ? words.rake : words.look;
}

/** Why an order was not done, in words. */
export function whyWords(why: string | null): string {
  return strings.practice.why[why ?? ""] ?? strings.keyTrouble;
}

/** A report as pairs of what and how much. */
export function reportRows(practice: Practice, report: PracticeReport, unit: Unit): [string, string][] {
  const words = strings.practice.report;
  const place = ([zone, celsius]: [string, number]): string =>
    `${portName(practice, zone)}, ${temperatureText(unit, celsius)}`;
  return [
    [words.lasted, strings.stretch(report.ended - report.begun)],
    [words.stokes, words.stokeCounts(report.stokes, report.side_stokes, kilosText(report.wood_kg))],
    [words.interval, intervalText(report)],
    [words.gap, words.minutes(report.longest_gap_min)],
    [words.falls, String(report.falls)],
    [words.stalls, String(report.stalls)],
    [
      words.guide,
      words.span(temperatureText(unit, report.lowest_c), temperatureText(unit, report.highest_c)),
    ],
    [words.warmest, place(report.warmest)],
    [words.coldest, place(report.coldest)],
  ];
}

function intervalText({ mean_interval_min: mean, agreed_interval_min: agreed }: PracticeReport): string {
  const words = strings.practice.report;
  return mean === null || agreed === null ? "–" : words.against(words.minutes(mean), words.minutes(agreed));
}
