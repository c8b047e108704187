import { describe, expect, it } from "vitest";
import {
  calling,
  inOrder,
  isLouder,
  isNewOrWorse,
  LINK_KEY,
  linkAlarm,
  putOffSteps,
  voiceFor,
} from "./alarms.js";
import { alarm } from "./examples.js";

describe("alarms", () => {
  it("puts what nobody has seen first, then the more urgent, then what still lasts, then the older", () => {
    const alarms = [
      alarm("seen-first", { priority: 1, acked: true }),
      alarm("third", { priority: 3 }),
      alarm("over", { active: false, since_s: 99 }),
      alarm("young", { since_s: 5 }),
      alarm("old", { since_s: 50 }),
    ];

    expect(inOrder(alarms).map(({ key }) => key)).toEqual(["old", "young", "over", "third", "seen-first"]);
    expect(alarms[0]?.key).toBe("seen-first");
  });

  it("raises the alarm of the lost link at 15 s and makes it urgent at 5 min", () => {
    expect(linkAlarm(14.9, false)).toBeNull();
    expect(linkAlarm(15, false)).toMatchObject({ key: LINK_KEY, priority: 2, acked: false, active: true });
    expect(linkAlarm(300, true)).toMatchObject({ priority: 1, acked: true });
  });

  it("lets what is active and unseen call, the lost link only from 30 s on", () => {
    const link = linkAlarm(20, false);
    const alarms = [
      alarm("a", { priority: 1 }),
      alarm("b", { acked: true }),
      alarm("c", { active: false }),
      ...(link === null ? [] : [link]),
    ];

    expect([...calling(alarms, 20)]).toEqual([["a", 1]]);
    expect(calling(alarms, 30).get(LINK_KEY)).toBe(2);
  });

  it("lists what is put off last and lets it make no sound", () => {
    const off = alarm("fall", { priority: 1, shelved_s: 500 });

    expect(inOrder([off, alarm("seen", { priority: 3, acked: true })]).map(({ key }) => key)).toEqual([
      "seen",
      "fall",
    ]);
    expect(calling([off], 0).size).toBe(0);
  });

  it("is louder while an alarm that was carried further calls", () => {
    const alarms = [alarm("fall", { priority: 1, escalation: 1 }), alarm("stall")];

    expect(isLouder(alarms, calling(alarms, 0))).toBe(true);
    expect(isLouder(alarms, new Map([["stall", 2]]))).toBe(false);
  });

  it.each([
    [0, []],
    [300, [300]],
    [900, [300, 900]],
    [3600, [300, 900, 3600]],
    [28_800, [300, 900, 3600, 28_800]],
  ])("offers within %s s the steps %s", (most, steps) => {
    expect(putOffSteps(most)).toEqual(steps);
  });

  it("goes on calling while there is no data", () => {
    expect(calling([alarm("fall", { no_data: true })], 0).has("fall")).toBe(true);
  });

  it("breaks the silence for something new or worse only", () => {
    const before = new Map([["fall", 2]]);

    expect(isNewOrWorse(new Map([["fall", 2]]), before)).toBe(false);
    expect(isNewOrWorse(new Map(), before)).toBe(false);
    expect(isNewOrWorse(new Map([["fall", 1]]), before)).toBe(true);
    expect(isNewOrWorse(new Map([["stall", 3]]), before)).toBe(true);
  });

  it.each([
    [[], "none"],
    [[3], "third"],
    [[3, 2], "second"],
    [[2, 1, 3], "first"],
    [[4], "prompt"],
  ] as const)("plays for priorities %s the voice %s", (priorities, voice) => {
    expect(voiceFor(new Map(priorities.map((priority, index) => [String(index), priority])))).toBe(voice);
  });
});
