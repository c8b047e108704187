/**
 * The panel's voice. Tones are put on the audio clock well ahead, so they go on while the page is throttled. Whether
 * sound is on is judged by the audio clock moving, not by what the context says of itself.
 */
import type { Voice } from "../model/alarms.js";
import { AHEAD_S, type Tone, tonesBetween } from "../model/patterns.js";

/** How much time must pass between two looks at the audio clock. */
const LOOK_MS = 400;
const FADE_S = 0.02;
/** -6 dB: what is louder than usual has room to be. */
const ONCE_S = 5;
const USUAL_GAIN = 0.5;

interface Playing {
  voice: Voice;
  bus: GainNode;
  /** Where on the audio clock the voice began. */
  begun_s: number;
  /** Up to where, in seconds since then, its tones are already on the clock. */
  written_s: number;
}

export class Sounder {
  /** Whether what is scheduled can be heard as far as a page can know. */
  isRunning = false;
  #context: AudioContext | null = null;
  #playing: Playing | null = null;
  #lookedMs = 0;
  #lookedAt_s = 0;

  /** Make or wake the audio context; called at the start and on every touch, since only a touch may wake it. */
  wake(): void {
    this.#context ??= makeContext();
    if (this.#context !== null && this.#context.state !== "running") void this.#context.resume();
  }

  /** Look whether the audio clock moves. */
  look(nowMs: number): void {
    if (nowMs - this.#lookedMs < LOOK_MS) return;
    const context = this.#context;
    const at_s = context?.currentTime ?? 0;
    this.isRunning = context?.state === "running" && at_s > this.#lookedAt_s;
    this.#lookedMs = nowMs;
    this.#lookedAt_s = at_s;
  }

  /** Let this voice sound from `delay_s` on and keep it on the clock 90 s ahead; a context that sleeps gets nothing. */
  play(voice: Voice, delay_s: number, louder: boolean): void {
    const context = this.#context;
    if (context?.state !== "running") {
      this.#stop();
      return;
    }
    const now_s = context.currentTime; // read once: it moves on meanwhile, past the first tone of a voice that begins now
    const begun_s = now_s + delay_s;
    if (this.#playing !== null && !continues(this.#playing, voice, begun_s, now_s)) this.#stop();
    if (voice === "none") return;
    this.#playing ??= { voice, bus: makeBus(context), begun_s, written_s: 0 };
    this.#playing.bus.gain.value = louder ? 1 : USUAL_GAIN;
    this.#write(context, this.#playing, now_s);
  }

  /** Let five seconds of a voice be heard beside whatever sounds. */
  once(voice: Voice): void {
    const context = this.#context;
    if (context?.state !== "running") return;
    const bus = makeBus(context);
    bus.gain.value = USUAL_GAIN;
    const begun_s = context.currentTime + FADE_S;
    for (const tone of tonesBetween(voice, 0, ONCE_S)) putTone(context, bus, tone, begun_s + tone.at_s);
  }

  #stop(): void {
    this.#playing?.bus.disconnect();
    this.#playing = null;
  }

  #write(context: AudioContext, playing: Playing, now_s: number): void {
    const from_s = Math.max(playing.written_s, now_s - playing.begun_s);
    const until_s = now_s + AHEAD_S - playing.begun_s;
    if (until_s <= from_s) return;
    for (const tone of tonesBetween(playing.voice, from_s, until_s)) {
      putTone(context, playing.bus, tone, playing.begun_s + tone.at_s);
    }
    playing.written_s = until_s;
  }
}

/** A voice goes on unless another is wanted, or it was to begin later and is now wanted at another time. */
function continues(playing: Playing, voice: Voice, begun_s: number, now_s: number): boolean {
  if (playing.voice !== voice) return false;
  const wantedNow = begun_s <= now_s;
  return wantedNow ? playing.begun_s <= now_s + 1 : Math.abs(playing.begun_s - begun_s) < 1;
}

function makeContext(): AudioContext | null {
  if (typeof AudioContext === "undefined") return null;
  const session = (navigator as { audioSession?: { type: string } }).audioSession;
  if (session !== undefined) session.type = "playback";
  return new AudioContext();
}

function makeBus(context: AudioContext): GainNode {
  const bus = context.createGain();
  bus.connect(context.destination);
  return bus;
}

function putTone(context: AudioContext, bus: GainNode, tone: Tone, at_s: number): void {
  const sines = Float32Array.from([0, ...tone.levels]);
  const wave = context.createPeriodicWave(new Float32Array(sines.length), sines, {
    disableNormalization: true,
  });
  const source = context.createOscillator();
  source.setPeriodicWave(wave);
  source.frequency.value = tone.hertz;
  const shape = context.createGain();
  shape.gain.setValueAtTime(0, at_s);
  shape.gain.linearRampToValueAtTime(1, at_s + FADE_S);
  shape.gain.setValueAtTime(1, at_s + tone.length_s - FADE_S);
  shape.gain.linearRampToValueAtTime(0, at_s + tone.length_s);
  source.connect(shape).connect(bus);
  source.onended = () => shape.disconnect();
  source.start(at_s);
  source.stop(at_s + tone.length_s);
}
