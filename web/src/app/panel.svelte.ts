/** The running panel: messages in, a face to draw and sounds out, choices kept. Wires the parts, decides little. */
import { clockOf } from "../model/ages.js";
import {
  calling,
  isLouder,
  isNewOrWorse,
  LINK_KEY,
  linkAlarm,
  SILENCE_S,
  type Voice,
  voiceFor,
} from "../model/alarms.js";
import { CHOICES_KEY, type Choices, readChoices, writeChoices } from "../model/choices.js";
import { addLive, curveFrom, emptyCurve, freshOf, isOvergrown, SPAN_S, trim } from "../model/curve.js";
import { type Deed, idOf, toldEntry, type Waiting, withTap } from "../model/log.js";
import { type Hello, type Help, type Report, readHelp, type ToPanel } from "../model/messages.js";
import { wantedC } from "../model/outlook.js";
import { type Order, whyWords } from "../model/practice.js";
import { chimes } from "../model/prompts.js";
import { helloFor, takeMessage } from "../model/state.js";
import { strings } from "../model/strings.en.js";
import type { Acts, Face } from "../view/face.js";
import {
  Connection,
  fetchHistory,
  fetchOutlook,
  fetchReport,
  liveAddress,
  order,
  post,
  tellEntry,
} from "./connection.js";
import { BatteryGauge } from "./device.js";
import { Sounder } from "./sound.js";

/** Columns asked of the history: about one for each pixel of the widest curve, within reason. */
const COLUMNS_LEAST = 300;
const COLUMNS_MOST = 1200;
const HISTORY_EVERY_MS = 60_000;
const HISTORY_LEAST_MS = 4000;
/** The engine renews its outlook every 30 s of the kiln's time. */
const OUTLOOK_EVERY_MS = 30_000;
const OUTLOOK_LEAST_MS = 2000;
const TROUBLE_SHOWN_MS = 10_000;
const STOKE_BOUNCE_MS = 400;
const TELL_AGAIN_MS = 3000;
/** Where the emergency card lies in the browser's local storage. */
const HELP_KEY = "nightstoke.help";

export class Panel implements Acts {
  face: Face = $state.raw(firstFace());
  readonly #link = new Connection(liveAddress(location), {
    hello: () => this.#hello(),
    take: (message, nowMs) => this.#take(message, nowMs),
    opened: () => this.#report(true),
  });
  readonly #sounder = new Sounder();
  readonly #battery = new BatteryGauge();
  #reported = "";
  /** What called when silence was asked for, here or elsewhere; null while there is no silence. */
  #calledAtSilence: ReadonlyMap<string, number> | null = null;
  #historyMs = Number.NEGATIVE_INFINITY;
  #historyRound = 0;
  #outlookMs = Number.NEGATIVE_INFINITY;
  #outlookRound = 0;
  #troubleMs = 0;
  #tapped: { deed: Deed; tappedMs: number } | null = null;
  #isTelling = false;
  #toldMs = Number.NEGATIVE_INFINITY;
  #isOrdering = false;
  #orderedMs = Number.NEGATIVE_INFINITY;
  #practiceTroubleMs = 0;

  start(): void {
    this.#sounder.wake();
    void this.#battery.start();
    this.#link.open();
    this.tick();
  }

  /** Do what time alone makes due; called twice a second. */
  tick(): void {
    const nowMs = performance.now();
    this.#link.watch(nowMs);
    this.#sounder.look(nowMs);
    this.#battery.look();
    this.#show(nowMs, { soundIsOn: this.#sounder.isRunning });
    this.#sound(nowMs);
    this.#report(false);
    this.#refreshHistory(nowMs);
    this.#refreshOutlook(nowMs);
    if (nowMs - this.#toldMs >= TELL_AGAIN_MS) void this.#tellWaiting();
  }

  /** The page was away or the network came back. */
  distrust(): void {
    this.#link.distrust();
    this.#sounder.wake();
    this.#historyMs = this.#outlookMs = Number.NEGATIVE_INFINITY;
    this.tick();
  }

  wakeSound(): void {
    this.#sounder.wake();
  }

  tryVoice(voice: Voice): void {
    this.#sounder.once(voice);
  }

  silence(): void {
    const nowMs = performance.now();
    this.#calledAtSilence = this.#calls(nowMs);
    this.#show(nowMs, { silencedUntilMs: nowMs + SILENCE_S * 1000 });
    this.#sound(nowMs);
    void this.#tell("/api/silence", {});
  }

  seen(key: string): void {
    if (key !== LINK_KEY) {
      void this.#tell(`/api/alarms/${encodeURIComponent(key)}/seen`, {});
      return;
    }
    const nowMs = performance.now();
    this.#show(nowMs, { linkSeen: true });
    this.#sound(nowMs);
  }

  putOff(key: string, forS: number, why: string): void {
    void this.#tell(`/api/alarms/${encodeURIComponent(key)}/shelve`, { for_s: forS, why });
  }

  takeBack(key: string): void {
    void this.#tell(`/api/alarms/${encodeURIComponent(key)}/unshelve`, {});
  }

  tell(deed: Deed): void {
    const tappedMs = performance.now();
    const id = idOf(crypto.getRandomValues(new Uint8Array(8))); // plain http has no randomUUID
    const tap: Waiting = { id, deed, who: this.face.choices.who, tappedMs };
    const waiting = withTap(this.face.waiting, tap, this.#tapped);
    if (waiting === null) return;
    this.#tapped = { deed, tappedMs };
    this.#show(tappedMs, { waiting });
    void this.#tellWaiting();
  }

  /** Send what waits, oldest first, one at a time; what is not confirmed stays and goes again under its id. */
  async #tellWaiting(): Promise<void> {
    if (this.#isTelling) return;
    this.#isTelling = true;
    for (let one = this.face.waiting[0]; one !== undefined; one = this.face.waiting[0]) {
      this.#toldMs = performance.now();
      const answer = await tellEntry(toldEntry(one, this.#toldMs));
      const { id } = one;
      if (answer === null) {
        this.#show(performance.now(), { logTrouble: strings.log.trouble });
        break;
      }
      const waiting = this.face.waiting.filter((other) => other.id !== id);
      this.#show(performance.now(), {
        waiting,
        logTrouble: answer === "refused" ? strings.log.refused : null,
      });
    }
    this.#isTelling = false;
  }

  /** One order at a time: a second tap while the first is on its way, or right after it, is no second stoke. */
  practise(wanted: Order): void {
    const tappedMs = performance.now();
    const isBounce = wanted.what.endsWith("stoke") && tappedMs - this.#orderedMs < STOKE_BOUNCE_MS;
    if (this.#isOrdering || isBounce) return;
    this.#orderedMs = tappedMs;
    this.#isOrdering = true;
    void order(wanted).then((why) => {
      this.#isOrdering = false;
      const nowMs = performance.now();
      if (why !== null) this.#practiceTroubleMs = nowMs;
      this.#show(nowMs, { practiceTrouble: why === null ? null : whyWords(why) });
    });
  }

  choose(change: Partial<Choices>): void {
    const choices = { ...this.face.choices, ...change };
    const spanChanged = choices.span !== this.face.choices.span;
    this.#show(performance.now(), { choices });
    store(CHOICES_KEY, writeChoices(choices));
    if (spanChanged) this.#historyMs = Number.NEGATIVE_INFINITY;
    if (spanChanged) this.#refreshHistory(performance.now());
    if (change.sheet === "load") {
      void fetchReport().then((report) => this.#show(performance.now(), { report }));
    }
    if (change.sheet !== undefined || "wantedC" in change || "cone" in change) this.#askOutlook();
  }

  #hello(): Hello {
    return helloFor(this.face.held);
  }

  #take(message: ToPanel, nowMs: number): boolean {
    const { held, verdict } = takeMessage(this.face.held, message, nowMs);
    if (verdict === "gap") return false;
    const change: Partial<Face> = { held, linkSeen: false };
    const isQuiet = this.face.silencedUntilMs <= nowMs;
    if (isQuiet && chimes(this.face.held?.prompts ?? [], held?.prompts ?? [])) this.#sounder.once("prompt");
    if (message.kind === "snapshot") change.help = message.help;
    if (message.kind === "snapshot") store(HELP_KEY, JSON.stringify(message.help));
    if (held !== null && verdict === "taken") {
      if (held.silencedUntilMs !== this.face.held?.silencedUntilMs) {
        change.silencedUntilMs = held.silencedUntilMs;
      }
      const { curve } = this.face;
      if (message.kind !== "heartbeat") {
        addLive(curve, message.clock, freshOf(message.values));
        change.curveRound = this.face.curveRound + 1;
      }
    }
    this.#show(nowMs, change);
    if (change.silencedUntilMs !== undefined) this.#calledAtSilence = this.#calls(nowMs);
    if (message.kind === "snapshot") this.#historyMs = Number.NEGATIVE_INFINITY;
    this.tick();
    return true;
  }

  #show(nowMs: number, change: Partial<Face>): void {
    const trouble = nowMs - this.#troubleMs > TROUBLE_SHOWN_MS ? null : this.face.trouble;
    const practiceTrouble =
      nowMs - this.#practiceTroubleMs > TROUBLE_SHOWN_MS ? null : this.face.practiceTrouble;
    this.face = { ...this.face, trouble, practiceTrouble, nowMs, heardMs: this.#link.heardMs, ...change };
  }

  #calls(nowMs: number): Map<string, number> {
    const silentS = (nowMs - this.#link.heardMs) / 1000;
    const own = linkAlarm(silentS, this.face.linkSeen);
    return calling([...(this.face.held?.alarms ?? []), ...(own === null ? [] : [own])], silentS);
  }

  #sound(nowMs: number): void {
    const calls = this.#calls(nowMs);
    const silentMs = this.face.silencedUntilMs - nowMs;
    if (silentMs <= 0) this.#calledAtSilence = null;
    const breaksSilence = this.#calledAtSilence !== null && isNewOrWorse(calls, this.#calledAtSilence);
    const louder = isLouder(this.face.held?.alarms ?? [], calls);
    this.#sounder.play(voiceFor(calls), breaksSilence ? 0 : Math.max(0, silentMs / 1000), louder);
  }

  #report(always: boolean): void {
    const report: Report = {
      kind: "report",
      sound: this.#sounder.isRunning ? "running" : "off",
      visible: document.visibilityState === "visible",
      battery: this.#battery.level,
    };
    const words = JSON.stringify(report);
    if ((always || words !== this.#reported) && this.#link.send(report)) this.#reported = words;
  }

  #refreshHistory(nowMs: number): void {
    const { held, curve, choices } = this.face;
    if (held === null || this.#reported === "") return;
    const span_s = SPAN_S[choices.span];
    const clock = clockOf(held, nowMs);
    if (span_s !== null) trim(curve, clock - span_s);
    const every = curve.times.length === 0 ? 0 : HISTORY_EVERY_MS / held.snapshot.speed;
    const waited = nowMs - this.#historyMs;
    if (waited < Math.max(HISTORY_LEAST_MS, isOvergrown(curve) ? 0 : every)) return;
    this.#historyMs = nowMs;
    void this.#fetchHistory(span_s === null ? null : Math.max(0, clock - span_s));
  }

  async #fetchHistory(begin: number | null): Promise<void> {
    this.#historyRound += 1;
    const round = this.#historyRound;
    const columns = Math.min(COLUMNS_MOST, Math.max(COLUMNS_LEAST, Math.round(innerWidth)));
    const history = await fetchHistory(begin, columns);
    if (round !== this.#historyRound) return;
    const curve = history === null ? this.face.curve : curveFrom(history);
    const curveRound = this.face.curveRound + 1;
    this.#show(performance.now(), { curve, curveRound, curveTrouble: history === null });
  }

  #refreshOutlook(nowMs: number): void {
    const { held, choices } = this.face;
    if (held === null || choices.sheet !== "heat") return;
    const every = Math.max(OUTLOOK_LEAST_MS, OUTLOOK_EVERY_MS / held.snapshot.speed);
    if (nowMs - this.#outlookMs >= every) this.#askOutlook();
  }

  #askOutlook(): void {
    const { held, choices } = this.face;
    if (held === null || choices.sheet !== "heat") return;
    this.#outlookMs = performance.now();
    const guideC = held.values.get(held.guide ?? "")?.celsius ?? null;
    void this.#fetchOutlook(wantedC(choices.wantedC, held.snapshot.plan?.points ?? [], guideC), choices.cone);
  }

  async #fetchOutlook(celsius: number, cone: string): Promise<void> {
    this.#outlookRound += 1;
    const round = this.#outlookRound;
    const found = await fetchOutlook(celsius, cone);
    if (round !== this.#outlookRound) return;
    const outlook = found ?? this.face.outlook;
    this.#show(performance.now(), { outlook, outlookTrouble: found === null });
  }

  async #tell(path: string, body: object): Promise<void> {
    const why = await post(path, { ...body, who: this.face.choices.who });
    if (why === null) return;
    const nowMs = performance.now();
    this.#troubleMs = nowMs;
    this.#show(nowMs, { trouble: why === "" ? strings.keyTrouble : strings.refused(why) });
  }
}

function store(key: string, words: string): void {
  try {
    localStorage.setItem(key, words);
  } catch {
    // A browser that keeps nothing still shows everything.
  }
}

function stored(key: string): string | null {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

function storedHelp(): Help | null {
  try {
    return readHelp(stored(HELP_KEY));
  } catch {
    return null; // what another version kept is no card; the next snapshot brings one
  }
}

function firstFace(): Face {
  const nowMs = performance.now();
  return {
    held: null,
    nowMs,
    heardMs: nowMs,
    linkSeen: false,
    silencedUntilMs: 0,
    soundIsOn: false,
    trouble: null,
    practiceTrouble: null,
    waiting: [],
    logTrouble: null,
    help: storedHelp(),
    choices: readChoices(stored(CHOICES_KEY)),
    curve: emptyCurve(),
    curveRound: 0,
    curveTrouble: false,
    outlook: null,
    outlookTrouble: false,
    report: null,
  };
}
