"""The records that flow through the service, from a scan to an alarm.

Every room receives and returns these and knows nothing else of its neighbours. Times are seconds since the Unix
epoch (UTC), temperatures degrees Celsius, emf volts. Fixed codes follow RFC 8428 names where the wire defines them.
What a replay makes by the hundred thousand is a msgspec Struct: made five times as fast as a frozen dataclass, and
none of the garbage collector's business.
"""

from dataclasses import dataclass
from enum import IntEnum, StrEnum

import msgspec
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
CodeArray = npt.NDArray[np.uint8]

SLOT_S = 5.0
"""Length of one cell of the engine's grid of record time, seconds."""


class InputFault(StrEnum):
    """What a node says in place of an emf that its converter could not measure."""

    OPEN = "open"
    RANGE = "range"
    COLD_JUNCTION = "cold-junction"


class Status(IntEnum):
    """What became of one input of one scan on its way to a temperature; only OK carries a number."""

    OK = 0
    ABSENT = 1  # nothing delivered for this sensor in this scan
    OPEN = 2
    RANGE = 3  # over or under voltage at the converter
    COLD_JUNCTION = 4  # cold junction missing, faulty or outside what a converter can measure
    BELOW = 5  # emf below the reference function's range
    ABOVE = 6  # emf above the reference function's range
    UNDEFINED = 7  # the reference function has no inverse here (type B below 250 degC)


class Reading(msgspec.Struct, frozen=True, gc=False):
    """What one input delivered in one scan; fields that were not sent are None.

    `input` is the full name, node and input: "shed-1/t1".
    """

    input: str
    emf_volts: float | None = None
    cold_junction_c: float | None = None
    fault: InputFault | None = None
    temperature_c: float | None = None
    oxygen_emf_volts: float | None = None
    contact: bool | None = None


class Scan(msgspec.Struct, frozen=True, gc=False):
    """All inputs of one node at one moment.

    `time` is epoch seconds, or as RFC 8428 has it relative to now when below 2**28 (a node without a clock, which then
    also sends `up_s`). `boot` and `seq` identify the scan; `oldest` is the lowest seq the node can still send again.
    """

    node: str
    time: float
    readings: tuple[Reading, ...]
    boot: str | None = None
    seq: int | None = None
    oldest: int | None = None
    up_s: float | None = None


class Arrival(msgspec.Struct, frozen=True, gc=False):
    """A scan as the host received it: `clock` is the host's record clock, never going back, epoch seconds."""

    scan: Scan
    clock: float


class Tick(msgspec.Struct, frozen=True, gc=False):
    """The host's record clock says that it is now `clock`, whether or not anything arrived."""

    clock: float


class EntryKind(StrEnum):
    """What a person told of.

    Wood charged, the kiln closed up, or that it is fired on after all; a point of a reminder ticked, a question
    answered, that they are present, and whether they heard a voice that was tried.
    """

    STOKED = "stoked"
    CLOSED_UP = "closed-up"
    FIRED_ON = "fired-on"
    TICKED = "ticked"
    ANSWERED = "answered"
    PRESENT = "present"
    HEARD = "heard"


@dataclass(frozen=True, slots=True)
class Entry:
    """What a person told the host at record clock `clock`: `what` was done at `time`, both epoch seconds.

    `id` was made by whoever told it, so that one told twice is one; `door` (front or side) of a stoke; `who` as far as
    the panel knows; `note` says which point, question with its answer, or voice ("handover/drink", "panel/yes").
    """

    id: str
    clock: float
    time: float
    what: EntryKind
    door: str | None = None
    who: str | None = None
    note: str | None = None


Event = Arrival | Tick | Entry
"""What comes into the chain, in order of its clock."""


@dataclass(frozen=True, slots=True, eq=False)
class ScanBlock:
    """Scans as columns, n scans by S sensors in the site's order; NaN where nothing was sent.

    `time` (n,), `emf_volts`, `cold_junction_c`, `temperature_c` (finished temperatures) and `oxygen_emf_volts` (n, S),
    `fault` (n, S) holds `Status` codes as far as the node told them (OK, ABSENT, OPEN, RANGE, COLD_JUNCTION).
    """

    time: FloatArray
    emf_volts: FloatArray
    cold_junction_c: FloatArray
    temperature_c: FloatArray
    oxygen_emf_volts: FloatArray
    fault: CodeArray


@dataclass(frozen=True, slots=True, eq=False)
class Temperatures:
    """Converted scans: `time` (n,), `celsius` (n, S) with NaN unless `status` (n, S) is `Status.OK`."""

    time: FloatArray
    celsius: FloatArray
    status: CodeArray


@dataclass(frozen=True, slots=True, eq=False)
class Slots:
    """Consecutive cells of the engine's grid, n slots of K kilns by S sensors (padded, masked by the setup).

    `end` (n,) is the record time at which each slot ends, a multiple of `SLOT_S`, rising, jumping over long silences;
    `known_at` (n, K) the clock when its last scan was in or waited for in vain; `mean_c` (n, K, S) the mean of valid
    samples, NaN without any; `count` (n, K, S) their number; `status` (n, K, S) the `Status` of the slot's last sample,
    ABSENT without any; `emf_min_volts`, `emf_max_volts` (n, K, S) the extremes of raw emf, `cold_c` (n, K, S) the last
    cold junction in degC, NaN without any. `late` (n, K, S) is whether samples of closed slots came before this one was
    known: too late to be judged, but they did come.
    """

    end: FloatArray
    known_at: FloatArray
    mean_c: FloatArray
    count: npt.NDArray[np.int64]
    status: CodeArray
    emf_min_volts: FloatArray
    emf_max_volts: FloatArray
    cold_c: FloatArray
    late: npt.NDArray[np.bool_]


class FindingKind(StrEnum):
    """What a finding is about; the words are defined in DEVELOPERS.md."""

    STOKE = "stoke"
    STALL = "stall"
    FALL = "fall"
    REDUCTION = "reduction"
    RHYTHM = "rhythm"
    SENSOR = "sensor"


class FindingState(StrEnum):
    """A stoke is an event; everything else begins and ends."""

    EVENT = "event"
    BEGIN = "begin"
    END = "end"


class SensorFault(StrEnum):
    """How a sensor fails."""

    OPEN = "open"
    RANGE = "range"
    COLD_JUNCTION = "cold-junction"
    REVERSED = "reversed"
    SHORT = "short"
    FROZEN = "frozen"
    SPIKES = "spikes"
    DRIFT = "drift"
    MISSING = "missing"
    LETTER = "letter"
    SWAPPED = "swapped"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something the engine knows about the fire.

    `time` is when the service knew, `onset` its estimate of when the condition began (on an end, when it ended).
    `measure` is in `unit` (a SenML symbol). Begin and end pair by kind, sensor and fault. `confidence` is how often
    findings like this one are right (0 to 1), None where that was not measured, or where a person told it.
    """

    time: float
    kind: FindingKind
    state: FindingState
    sensor: str | None
    onset: float
    measure: float | None
    unit: str | None
    text: str
    fault: SensorFault | None = None
    door: str | None = None
    ratio: float | None = None
    confidence: float | None = None


@dataclass(frozen=True, slots=True)
class SensorClimb:
    """Rate of rise of one sensor net of stoke ripple, with its standard uncertainty; None while it cannot be known."""

    sensor: str
    climb_c_per_h: float | None
    uncertainty_c_per_h: float | None


@dataclass(frozen=True, slots=True)
class When:
    """When something is expected, epoch seconds: between `early` and `late` in four cases of five.

    None for not within the reach of the outlook.
    """

    early: float | None
    likely: float | None
    late: float | None


@dataclass(frozen=True, slots=True)
class SensorOutlook:
    """What one sensor of fire or ware has seen, and what is ahead of it.

    `celsius` is its temperature net of stoke ripple. `equivalent_c` is the temperature up to which a steady climb of
    60 degC/h gives as much heat work, `half_width_c` twice the standard uncertainty of its place among cones; `cone` is
    the nearest one, between `lowest` and `highest`. `unmeasured` is the share of the next cone's heat work that lies in
    gaps. `next_cone` is the lowest that should still stand, `next_at` when it falls, told in the chamber only, where
    the ware stands. `wanted_at` and `wanted_cone_at` answer what was asked for. `doubtful` where a fault leaves the
    temperature in doubt. None while unknown.
    """

    sensor: str
    celsius: float | None
    equivalent_c: float | None
    half_width_c: float | None
    cone: str | None
    lowest: str | None
    highest: str | None
    unmeasured: float
    next_cone: str | None
    next_at: When | None
    wanted_at: When | None
    wanted_cone_at: When | None
    doubtful: bool


@dataclass(frozen=True, slots=True)
class Evenness:
    """How far the chamber's hottest and coldest sensors are apart, degC.

    `unsure_c` is twice the standard uncertainty of a difference between two new probes of class 2.
    """

    hottest: str
    coldest: str
    apart_c: float
    unsure_c: float


@dataclass(frozen=True, slots=True)
class PointOutlook:
    """A point of the plan that is still ahead: degC at the guide, when planned, when expected."""

    celsius: float
    planned: float
    expected: When


@dataclass(frozen=True, slots=True)
class Outlook:
    """Heat work, evenness and forecast of one kiln at record time `at`; an estimate, never the decision.

    `pace` is how fast this firing has gone of late over its plan, None without one; `reach_h` how many hours ahead it
    looks. After closing up nothing is expected. `scale` holds every cone with the degC at which it falls on a climb of
    60 degC/h: the scale of `equivalent_c`.
    """

    at: float
    guide: str | None
    pace: float | None
    reach_h: float
    sensors: tuple[SensorOutlook, ...]
    evenness: Evenness | None
    points: tuple[PointOutlook, ...]
    scale: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm in its present state; state names as OPC 10000-9.

    `key` is unique ("fall", "sensor:firebox", "node:shed-1"), `row` names the entry of the alarm table. `active` is the
    condition, `acked` that someone has seen it, `no_data` that the condition can no longer be judged and is held.
    `shelved_until`, `shelved_by`, `shelved_why` and `suppressed_by` are None when not shelved or suppressed.
    `escalation` counts how far an unseen alarm of priority 1 has been carried: 1 louder and to the house, 2 to the next
    person. Times are epoch seconds.
    """

    key: str
    row: str
    priority: int
    active: bool
    acked: bool
    no_data: bool
    since: float
    cleared: float | None
    acked_at: float | None
    acked_by: str | None
    shelved_until: float | None
    suppressed_by: str | None
    sensor: str | None
    text: str
    shelved_by: str | None = None
    shelved_why: str | None = None
    escalation: int = 0


@dataclass(frozen=True, slots=True)
class PromptPoint:
    """A point of a reminder, and who ticked it at which epoch second, None while nobody did."""

    id: str
    text: str
    ticked_by: str | None = None
    ticked_at: float | None = None


@dataclass(frozen=True, slots=True)
class Prompt:
    """Something expected of people since epoch second `since`: points to tick, or a question with (id, text) answers.

    `chime` says whether two short notes announce it.
    """

    key: str
    title: str
    text: str
    since: float
    chime: bool
    points: tuple[PromptPoint, ...] = ()
    answers: tuple[tuple[str, str], ...] = ()
