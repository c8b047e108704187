/** What the view is given to show, and what a touch may ask for. The view holds no state of the kiln itself. */
import type { Voice } from "../model/alarms.js";
import type { Choices } from "../model/choices.js";
import type { Curve } from "../model/curve.js";
import type { AlarmReport } from "../model/load.js";
import type { Deed, Waiting } from "../model/log.js";
import type { Help } from "../model/messages.js";
import type { Outlook } from "../model/outlook.js";
import type { Order } from "../model/practice.js";
import type { Held } from "../model/state.js";

export interface Face {
  held: Held | null;
  /** The page's monotonic clock, renewed twice a second. */
  nowMs: number;
  /** When the service was last heard. */
  heardMs: number;
  /** Whether the alarm of the lost link was seen here. */
  linkSeen: boolean;
  silencedUntilMs: number;
  soundIsOn: boolean;
  /** Words on a touch that the service did not store, or null. */
  trouble: string | null;
  /** Words on what could not be done at the practice, or null. */
  practiceTrouble: string | null;
  /** Taps in the log that the service has not confirmed yet, newest last. */
  waiting: readonly Waiting[];
  /** Words on a tap in the log that the service did not keep, or null. */
  logTrouble: string | null;
  /** What the card for emergencies says, kept through a dead link and a reload. */
  help: Help | null;
  choices: Choices;
  curve: Curve;
  /** Grows with every change of the curve, which is not watched itself. */
  curveRound: number;
  curveTrouble: boolean;
  /** Heat work and forecast as last fetched; "early" before there is any, null before it was asked for. */
  outlook: Outlook | "early" | null;
  outlookTrouble: boolean;
  /** How much alarms asked of people, null until it is fetched. */
  report: AlarmReport | null;
}

export interface Acts {
  seen(key: string): void;
  /** Put one alarm off for so many seconds, with the reason. */
  putOff(key: string, forS: number, why: string): void;
  takeBack(key: string): void;
  silence(): void;
  wakeSound(): void;
  /** Let five seconds of a voice be heard here. */
  tryVoice(voice: Voice): void;
  choose(change: Partial<Choices>): void;
  /** Tell what was done at the kiln. */
  tell(deed: Deed): void;
  /** Do something at the simulated kiln. */
  practise(order: Order): void;
}
