"""The messages between service and panel: JSON over the WebSocket, each with its `kind`.

One source of truth: `web/src/model/messages.ts` mirrors these, and `tests/golden/messages/` holds one example of each
that both languages decode. Numbers are degrees Celsius, seconds and degC/h; ages count at the moment of sending.
Text a person reads is made at the panel, except finding texts and alarm words, which come from the engine and the
alarm table.
"""

from typing import Literal

import msgspec

from monitor.wire.practice import Practice


class Kiln(msgspec.Struct, frozen=True):
    """Which kiln this is; `time_zone` is the IANA name its people live by."""

    name: str
    id: str
    time_zone: str


class Sensor(msgspec.Struct, frozen=True):
    """One sensor of the site; `type` is the letter of IEC 60584-1, "zirconia", or None for finished temperatures."""

    id: str
    place: str
    type: str | None
    input: str


class PlanLine(msgspec.Struct, frozen=True):
    """The agreed course as (epoch seconds, degC) points, judged at sensor `guide`."""

    points: list[tuple[float, float]]
    guide: str


class Firing(msgspec.Struct, frozen=True):
    """The firing on show; its id is its UTC start."""

    id: str
    begun: float
    ended: float | None


class Value(msgspec.Struct, frozen=True):
    """The newest word of one sensor.

    `celsius` is None unless `status` is "ok"; other words: absent, open, range, cold-junction, below, above, undefined.
    `quality` is "good" or a NAMUR NE 107 letter: F failed, C check (also simulator and replay), S out of
    specification, M maintenance. `age_s` is None before the first scan. `climb_c_per_h` is net of stoke ripple with
    its standard uncertainty, None while it cannot be known.
    """

    sensor: str
    celsius: float | None
    status: str
    quality: str
    age_s: float | None
    climb_c_per_h: float | None
    climb_uncertainty_c_per_h: float | None


class FindingLine(msgspec.Struct, frozen=True):
    """A finding as it is told: kind, state (event, begin, end), when known, when it began, and words."""

    time: float
    kind: str
    state: str
    sensor: str | None
    onset: float
    measure: float | None
    unit: str | None
    text: str
    fault: str | None = None
    door: str | None = None
    ratio: float | None = None
    confidence: float | None = None


class EntryLine(msgspec.Struct, frozen=True):
    """What a person told: `what` was done at `time`, through `door` (front, side).

    `what` is stoked, closed-up, fired-on, ticked, answered, present or heard; `note` says which point, answer or voice.
    """

    id: str
    time: float
    what: str
    door: str | None
    who: str | None
    note: str | None = None


class AlarmLine(msgspec.Struct, frozen=True):
    """One alarm with its words from the alarm table; seconds count up to, or on from, the moment of sending.

    `shelved_s` is for how long it stays put off, by whom and why; `shelve_most_s` the longest that it may be, 0 for
    never. `first` marks what came first of several that are active. `escalation` counts how far an unseen alarm of
    priority 1 has been carried: 1 louder and to the house, 2 to the next person.
    """

    key: str
    row: str
    priority: int
    active: bool
    acked: bool
    no_data: bool
    since: float
    since_s: float
    acked_by: str | None
    sensor: str | None
    title: str
    text: str
    cause: str
    consequence: str
    action: str
    act_in_s: float
    shelved_s: float | None = None
    shelved_by: str | None = None
    shelved_why: str | None = None
    shelve_most_s: float = 0.0
    first: bool = False
    escalation: int = 0


class PromptPoint(msgspec.Struct, frozen=True):
    """A point of a reminder; `ticked_s` seconds ago `ticked_by` ticked it."""

    id: str
    text: str
    ticked_by: str | None = None
    ticked_s: float | None = None


class PromptAnswer(msgspec.Struct, frozen=True):
    """One answer to a question."""

    id: str
    text: str


class PromptLine(msgspec.Struct, frozen=True):
    """Something expected of people now: a reminder whose points are ticked by name, or a question with answers.

    `chime` says whether two short rising notes announce it; others are silent.
    """

    key: str
    title: str
    text: str
    since: float
    since_s: float
    chime: bool
    points: list[PromptPoint] = []
    answers: list[PromptAnswer] = []


class Help(msgspec.Struct, frozen=True):
    """What whoever calls for help must know; `people` are (name, phone)."""

    number: str
    address: str
    directions: str
    people: list[tuple[str, str]]


class Links(msgspec.Struct, frozen=True):
    """The chain as the host sees it: seconds since each node's last scan, and what is counted rather than hidden."""

    node_age_s: dict[str, float]
    counters: dict[str, int]
    store_error: str | None
    source_error: dict[str, str]
    panels_with_sound: int


class VoiceAnswer(msgspec.Struct, frozen=True):
    """What a sounder is told when it asks.

    `beats` grows with each second of the service's work. `sounding` is the priority that should be heard, None for
    quiet; `louder` where it was not seen for too long; `silenced` while somebody switched all sound off; `stuck` says
    why nothing is judged; `armed` whether a firing is open; `test` as in `Snapshot`.
    """

    epoch: str
    beats: int
    sounding: int | None
    louder: bool
    silenced: bool
    stuck: str | None
    armed: bool
    test: str | None


class LoadLine(msgspec.Struct, frozen=True):
    """What sounded between two epoch seconds, with the most in any hour and in any ten minutes."""

    begun: float
    ended: float
    alarms: int
    per_hour_most: int
    in_10_min_most: int


class AlarmReport(msgspec.Struct, frozen=True):
    """How much alarms asked of people in a firing: by hour, by priority, by row (id, title, count) and by watch."""

    hours: float
    alarms: int
    per_hour_most: int
    in_10_min_most: int
    share: dict[str, int]
    most_frequent: list[tuple[str, str, int]]
    watches: list[LoadLine]


class Snapshot(msgspec.Struct, frozen=True, tag="snapshot", tag_field="kind"):
    """Everything a panel needs to show the present; sent at connect and whenever a resume is impossible.

    `epoch` is new at each start of the service, `seq` counts messages in it. `clock` is record time. `test` is
    "simulator" or "replay" when this is no real kiln, else None. `silenced_s` is how much longer sound is silenced.
    `entries` are the newest, oldest first; `closed_up` whether the kiln is closed up by them. `practice` is there where
    the kiln is a simulated one that a person may fire. `prompts` are what is expected of people now, most pressing
    first; `help` is None where the site file says nothing.
    """

    epoch: str
    seq: int
    clock: float
    speed: float
    test: str | None
    kiln: Kiln
    firing: Firing | None
    plan: PlanLine | None
    guide: str | None
    sensors: list[Sensor]
    values: list[Value]
    alarms: list[AlarmLine]
    silenced_s: float
    findings: list[FindingLine]
    last_stoke: float | None
    links: Links
    entries: list[EntryLine]
    closed_up: bool
    prompts: list[PromptLine] = []
    help: Help | None = None
    practice: Practice | None = None


class Frame(msgspec.Struct, frozen=True, tag="frame", tag_field="kind", omit_defaults=True):
    """What changed: `values` holds changed sensors only, `alarms` the full list if any alarm changed, else None.

    `entries` are new ones; with a new `firing` those before are another firing's. `prompts` is the full list if any
    changed.
    """

    epoch: str
    seq: int
    clock: float
    values: list[Value] = []
    alarms: list[AlarmLine] | None = None
    silenced_s: float | None = None
    findings: list[FindingLine] = []
    guide: str | None = None
    last_stoke: float | None = None
    links: Links | None = None
    firing: Firing | None = None
    entries: list[EntryLine] = []
    closed_up: bool | None = None
    prompts: list[PromptLine] | None = None
    practice: Practice | None = None


class Heartbeat(msgspec.Struct, frozen=True, tag="heartbeat", tag_field="kind"):
    """Sign of life every 2 s; `seq` is the last message sent, `engine` counts slots judged."""

    epoch: str
    seq: int
    clock: float
    engine: int


class Hello(msgspec.Struct, frozen=True, tag="hello", tag_field="kind"):
    """First word of a panel: what it has seen last, so that the service resumes or sends a snapshot."""

    epoch: str | None = None
    seq: int | None = None


class Report(msgspec.Struct, frozen=True, tag="report", tag_field="kind"):
    """What the panel can do: `sound` is "running" only when its audio clock moves; `battery` 0 to 1 if known."""

    sound: Literal["running", "off"]
    visible: bool
    battery: float | None = None


ToPanel = Snapshot | Frame | Heartbeat
FromPanel = Hello | Report

encode = msgspec.json.Encoder().encode
decode_from_panel = msgspec.json.Decoder(FromPanel).decode
decode_to_panel = msgspec.json.Decoder(ToPanel).decode
