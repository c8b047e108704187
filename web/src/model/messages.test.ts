import { describe, expect, it } from "vitest";
import { BadMessage } from "./check.js";
import { readHelp, readMessage, writeMessage } from "./messages.js";

const golden: Record<string, string> = import.meta.glob("../../../tests/golden/messages/*.json", {
  query: "?raw",
  import: "default",
  eager: true,
});

function example(name: string): string {
  const found = Object.entries(golden).find(([path]) => path.endsWith(`/${name}.json`));
  if (found === undefined) throw new Error(`no golden message ${name}`);
  return found[1];
}

describe("messages", () => {
  it.each(["snapshot", "snapshot_bare", "frame", "heartbeat"])("reads %s without losing a field", (name) => {
    expect(readMessage(example(name))).toEqual(JSON.parse(example(name)));
  });

  it("fills in what a frame leaves out", () => {
    expect(readMessage(example("frame_bare"))).toEqual({
      ...JSON.parse(example("frame_bare")),
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
    });
  });

  it("reads what an older service sends, with usual values for what it does not know", () => {
    const old = JSON.parse(example("snapshot"));
    const { prompts: _, help: __, ...rest } = old;
    const { shelved_s, shelved_by, shelved_why, shelve_most_s, first, escalation, ...alarm } = old.alarms[0];
    const read = readMessage(JSON.stringify({ ...rest, alarms: [alarm] }));

    expect(read).toMatchObject({ prompts: [], help: null });
    expect(read).toMatchObject({
      alarms: [{ shelved_s: null, shelve_most_s: 0, first: false, escalation: 0 }],
    });
  });

  it("reads the emergency card that was kept, or that there is none", () => {
    const { help } = JSON.parse(example("snapshot"));

    expect(readHelp(JSON.stringify(help))).toEqual(help);
    expect(readHelp(null)).toBeNull();
    expect(() => readHelp('{"number":1}')).toThrow("help.number: text expected");
  });

  it("writes a hello and a report as the service reads them", () => {
    const hello = writeMessage({ kind: "hello", epoch: "one", seq: 102 });
    const first = writeMessage({ kind: "hello", epoch: null, seq: null });
    const report = writeMessage({ kind: "report", sound: "running", visible: true, battery: 0.87 });

    expect(JSON.parse(hello)).toEqual(JSON.parse(example("hello")));
    expect(JSON.parse(first)).toEqual(JSON.parse(example("hello_first")));
    expect(JSON.parse(report)).toEqual(JSON.parse(example("report")));
  });

  it("names the field that is wrong", () => {
    const wrong = JSON.parse(example("snapshot"));
    wrong.values[1].celsius = "hot";

    expect(() => readMessage(JSON.stringify(wrong))).toThrow(
      'snapshot.values[1].celsius: a number expected, "hot" found',
    );
  });

  it.each([
    ["{}", "kind: undefined is unknown"],
    ['{"kind":"song"}', 'kind: "song" is unknown'],
    ['{"kind":"heartbeat","epoch":"one","seq":1,"clock":1}', "heartbeat.engine: a number expected"],
    ['{"kind":"heartbeat","epoch":1,"seq":1,"clock":1,"engine":1}', "heartbeat.epoch: text expected"],
  ])("refuses %s", (words, reason) => {
    expect(() => readMessage(words)).toThrow(BadMessage);
    expect(() => readMessage(words)).toThrow(reason);
  });

  it("refuses wrong shapes inside", () => {
    const base = JSON.parse(example("snapshot"));
    const broken = [
      [{ sensors: {} }, "snapshot.sensors: a list expected"],
      [{ kiln: [] }, "snapshot.kiln: an object expected"],
      [{ plan: { guide: "a", points: [[1]] } }, "snapshot.plan.points[0]: a pair expected"],
      [{ alarms: [{ ...base.alarms[0], active: 1 }] }, "snapshot.alarms[0].active: true or false expected"],
      [
        { links: { ...base.links, counters: { crc: null } } },
        "snapshot.links.counters.crc: a number expected",
      ],
    ] as const;

    for (const [change, reason] of broken) {
      expect(() => readMessage(JSON.stringify({ ...base, ...change }))).toThrow(reason);
    }
  });
});
