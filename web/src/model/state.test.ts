import { describe, expect, it } from "vitest";
import { alarm, frame, practice, prompt, snapshot, value } from "./examples.js";
import type { FindingLine } from "./messages.js";
import { FINDINGS_KEPT, type Held, helloFor, takeMessage } from "./state.js";

const begun = (): Held => {
  const { held } = takeMessage(null, snapshot(), 0);
  if (held === null) throw new Error("a snapshot is always taken");
  return held;
};

const finding: FindingLine = {
  time: 1,
  kind: "stoke",
  state: "event",
  sensor: null,
  onset: 1,
  measure: null,
  unit: null,
  text: "",
  fault: null,
  door: null,
  ratio: null,
  confidence: null,
};

describe("state", () => {
  it("asks for a snapshot at first and tells afterwards what it has seen", () => {
    expect(helloFor(null)).toEqual({ kind: "hello", epoch: null, seq: null });
    expect(helloFor(begun())).toEqual({ kind: "hello", epoch: "one", seq: 10 });
  });

  it("keeps what a frame does not mention", () => {
    const first = begun();
    const { held, verdict } = takeMessage(first, frame(11, { values: [value("front", 905)] }), 1000);

    expect(verdict).toBe("taken");
    expect(held?.values.get("front")).toMatchObject({ celsius: 905, receivedMs: 1000 });
    expect(held?.values.get("middle")).toMatchObject({ celsius: 880, receivedMs: 0 });
    expect(held?.alarms).toBe(first.alarms);
    expect(held?.guide).toBe("middle");
    expect(held?.clock).toBe(1011);
  });

  it("keeps prompts until a frame brings others", () => {
    const { held } = takeMessage(begun(), frame(11, { prompts: [prompt("handover")] }), 2000);
    const later = takeMessage(held, frame(12), 3000).held;

    expect(later?.prompts.map(({ key }) => key)).toEqual(["handover"]);
    expect(later?.promptsReceivedMs).toBe(2000);
    expect(takeMessage(later, frame(13, { prompts: [] }), 4000).held?.prompts).toEqual([]);
  });

  it("takes what a frame does mention", () => {
    const change = frame(11, {
      alarms: [alarm("fall")],
      silenced_s: 60,
      guide: "front",
      last_stoke: 990,
      firing: { id: "f", begun: 0, ended: 1000 },
    });
    const { held } = takeMessage(begun(), change, 2000);

    expect(held?.alarms.map(({ key }) => key)).toEqual(["fall"]);
    expect(held?.alarmsReceivedMs).toBe(2000);
    expect(held?.silencedUntilMs).toBe(62_000);
    expect(held?.guide).toBe("front");
    expect(held?.lastStoke).toBe(990);
    expect(held?.firing?.ended).toBe(1000);
  });

  it("keeps the practice until another is told; a real kiln has none", () => {
    const first = begun();
    const told = takeMessage(first, frame(11, { practice: practice() }), 0).held;
    const kept = takeMessage(told, frame(12), 0).held;

    expect(first.practice).toBeNull();
    expect(told?.practice).toEqual(practice());
    expect(kept?.practice).toBe(told?.practice);
  });

  it("takes no frame twice and leaves none out", () => {
    const first = begun();

    expect(takeMessage(first, frame(10), 0)).toEqual({ held: first, verdict: "repeated" });
    expect(takeMessage(first, frame(12), 0)).toEqual({ held: first, verdict: "gap" });
    expect(takeMessage(first, frame(11, { epoch: "two" }), 0).verdict).toBe("gap");
    expect(takeMessage(null, frame(1), 0).verdict).toBe("gap");
  });

  it("hears from a heartbeat that a frame was lost", () => {
    const beat = { kind: "heartbeat", epoch: "one", seq: 10, clock: 1002, engine: 7 } as const;

    expect(takeMessage(begun(), beat, 500).held).toMatchObject({
      engine: 7,
      clock: 1002,
      clockReceivedMs: 500,
    });
    expect(takeMessage(begun(), { ...beat, seq: 11 }, 500).verdict).toBe("gap");
  });

  it("resumes to the same picture as a fresh load", () => {
    const missed = [frame(11, { values: [value("front", 905)] }), frame(12, { alarms: [alarm("fall")] })];
    let resumed: Held | null = begun();
    for (const one of missed) resumed = takeMessage(resumed, one, 5000).held;
    const now = snapshot({
      seq: 12,
      clock: 1012,
      values: [value("front", 905), value("middle", 880)],
      alarms: [alarm("fall")],
    });
    const fresh = takeMessage(null, now, 5000).held;

    expect(resumed?.alarms).toEqual(fresh?.alarms);
    expect([...(resumed?.values.values() ?? [])].map(({ celsius }) => celsius)).toEqual([905, 880]);
    expect(helloFor(resumed)).toEqual(helloFor(fresh));
  });

  it("keeps a bounded number of findings, the newest", () => {
    let held: Held | null = begun();
    for (let seq = 11; seq < 11 + FINDINGS_KEPT + 5; seq += 1) {
      held = takeMessage(held, frame(seq, { findings: [{ ...finding, time: seq }] }), 0).held;
    }

    expect(held?.findings).toHaveLength(FINDINGS_KEPT);
    expect(held?.findings.at(-1)?.time).toBe(10 + FINDINGS_KEPT + 5);
  });

  it("adds entries, and begins anew with a new firing", () => {
    const stoked = { id: "a", time: 990, what: "stoked", door: "front", who: null, note: null };
    const closed = { id: "b", time: 1000, what: "closed-up", door: null, who: null, note: null };
    const begun = takeMessage(null, snapshot({ entries: [stoked] }), 0).held;
    const ended = takeMessage(begun, frame(11, { entries: [closed], closed_up: true }), 0).held;
    const over = takeMessage(ended, frame(12, { firing: { id: "f", begun: 0, ended: 1001 } }), 0).held;
    const next = takeMessage(
      over,
      frame(13, { firing: { id: "g", begun: 1002, ended: null }, closed_up: false }),
      0,
    ).held;

    expect(ended?.entries).toEqual([stoked, closed]);
    expect([begun?.closedUp, ended?.closedUp, next?.closedUp]).toEqual([false, true, false]);
    expect(over?.entries).toEqual([stoked, closed]);
    expect(next?.entries).toEqual([]);
  });
});
