"""The rationalisation table: TOML text to checked rows, all errors at once.

A row follows the rationalisation of ANSI/ISA-18.2 and IEC 62682: condition, delays, priority, cause, consequence,
action, time to act. The text itself is data (`table.toml` beside this file, which a site may adapt); reading it is
left to the caller: `importlib.resources.files(TABLE_PACKAGE) / TABLE_FILE`.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any

from pydantic import Field, ValidationInfo, field_validator

from monitor.alarms.circumstance import Circumstance, Phase
from monitor.model import Alarm, SensorFault
from monitor.strict_toml import StrictPart, check_part, read_toml

TABLE_PACKAGE = "monitor.alarms"
TABLE_FILE = "table.toml"


class Condition(StrEnum):
    """What an alarm watches."""

    FALL = "fall"
    STALL = "stall"
    RHYTHM = "rhythm"
    SENSOR = "sensor"
    NODE = "node"
    REDUCTION_UNWANTED = "reduction-unwanted"
    REDUCTION_LOST = "reduction-lost"
    DRYING_CLIMB = "drying-climb"
    INVERSION = "inversion"
    COOLING_RATE = "cooling-rate"
    HARD_LIMIT = "hard-limit"
    SPREAD = "spread"
    TIMBER = "timber"
    STOKE_OVERDUE = "stoke-overdue"
    SIGN_OF_LIFE = "sign-of-life"
    HANDOVER = "handover"
    PLAN_LATE = "plan-late"
    LISTENING = "listening"
    STUCK = "stuck"
    VOICE = "voice"
    STORE = "store"
    SPACE = "space"
    CLOCK = "clock"
    POWER = "power"
    HOST_WARM = "host-warm"


OF_FINDINGS = frozenset(
    {
        Condition.FALL, Condition.STALL, Condition.RHYTHM, Condition.SENSOR, Condition.REDUCTION_UNWANTED,
        Condition.REDUCTION_LOST,
    }
)  # fmt: skip
"""What findings begin and end; all else is judged anew at each step."""

OF_HOST = frozenset(
    {
        Condition.SIGN_OF_LIFE, Condition.HANDOVER, Condition.LISTENING, Condition.STUCK, Condition.VOICE,
        Condition.STORE, Condition.SPACE, Condition.CLOCK, Condition.POWER, Condition.HOST_WARM,
    }
)  # fmt: skip
"""What concerns people and the host: it counts their seconds, also where a kiln runs faster than life."""


NEEDED_FAULTS = (SensorFault.OPEN, SensorFault.RANGE, SensorFault.COLD_JUNCTION, SensorFault.MISSING)
"""Faults that leave a sensor without a number: a table without a row for each would be blind to them."""

_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")
_PATTERN_HELP = {"id": "use lower-case letters, digits and '-', beginning with a letter"}
_TEXTS = ("cause", "consequence", "action")
Seconds = Annotated[float, Field(ge=0)]
Rate = Annotated[float, Field(gt=0)]
Priority = Annotated[int, Field(ge=1, le=3)]
Text = Annotated[str, Field(min_length=1)]


class Settings(StrictPart):
    """Set points that belong to no single row; units in the names, reasons in the file."""

    high_fire_c: float
    early_c: float
    fired_from_c: float
    drying_until_c: float
    drying_raw_c_per_h: Rate
    drying_bisque_c_per_h: Rate
    inversion_c: tuple[float, float]
    inversion_c_per_h: Rate
    cooling_below_c: float
    cooling_c_per_h: Rate
    cristobalite_c: tuple[float, float]
    cristobalite_c_per_h: Rate
    rate_deadband_c_per_h: Seconds
    limit_deadband_c: Seconds
    timber_c: float
    soak_below_c_per_h: Rate
    overdue_times: Annotated[float, Field(gt=1)]
    overdue_least_s: Seconds
    alone_s: Seconds
    sign_of_life_s: Seconds
    sign_of_life_night_s: Seconds
    night_h: tuple[float, float]
    plan_late_s: Seconds
    space_bytes: Seconds
    space_short_bytes: Seconds
    battery_least: Annotated[float, Field(ge=0, le=1)]
    host_most_c: float
    node_silent_s: Annotated[float, Field(gt=0)]
    node_return_s: Seconds
    silence_s: Annotated[float, Field(gt=0, le=60)]
    escalate_s: tuple[float, float]
    shelve_most_s: tuple[float, float, float]

    @field_validator("inversion_c", "cristobalite_c", "escalate_s")
    @classmethod
    def _rising(cls, pair: tuple[float, float]) -> tuple[float, float]:
        if not 0.0 <= pair[0] < pair[1]:
            raise ValueError("two numbers, the second above the first")
        return pair


class Words(StrictPart):
    """Words that several rows share."""

    safety_first: Text
    look: Text


class Worse(StrictPart):
    """The more urgent priority of a row, and when it applies; `after_s` counts from the condition's begin."""

    priority: Priority
    when: Circumstance
    after_s: Seconds | None = Field(default=None, validate_default=True)

    @field_validator("after_s")
    @classmethod
    def _time_where_lasting(cls, after_s: float | None, known: ValidationInfo) -> float | None:
        when = known.data.get("when")
        if when is not None and (when is Circumstance.LASTING) != (after_s is not None):
            raise ValueError('give seconds with when = "lasting", and only there')
        return after_s


class AlarmRow(StrictPart):
    """One alarm of the table.

    `number` is its place in the list, `faults` which sensor faults raise it, `not_in` where the firing must not stand
    for it to be told. `ends_seen` where it can only end by the doing of somebody, who need not say again that it was
    seen.
    """

    id: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    number: Annotated[int, Field(ge=1)]
    title: Annotated[str, Field(min_length=1, max_length=40)]
    condition: Condition
    faults: tuple[SensorFault, ...] = Field(default=(), validate_default=True)
    on_delay_s: Seconds
    off_delay_s: Seconds
    priority: Priority
    worse: Worse | None = None
    cause: Text
    consequence: Text
    action: Text
    act_in_s: Annotated[float, Field(gt=0)]
    not_in: tuple[Phase, ...] = ()
    ends_seen: bool = False
    never_shelve: bool = False
    latching: bool = False

    @field_validator("faults")
    @classmethod
    def _faults_of_sensors(cls, faults: tuple[SensorFault, ...], known: ValidationInfo) -> tuple[SensorFault, ...]:
        condition = known.data.get("condition")
        if condition is not None and (condition is Condition.SENSOR) != bool(faults):
            raise ValueError('name the faults where condition = "sensor", and only there')
        return faults

    @field_validator("worse")
    @classmethod
    def _more_urgent(cls, worse: Worse | None, known: ValidationInfo) -> Worse | None:
        priority = known.data.get("priority")
        if worse is not None and priority is not None and worse.priority >= priority:
            raise ValueError(f"its priority must be more urgent (lower) than the row's {priority}")
        return worse

    @field_validator(*_TEXTS)
    @classmethod
    def _known_placeholders(cls, text: str) -> str:
        if unknown := sorted(set(_PLACEHOLDER.findall(text)) - set(Words.model_fields)):
            raise ValueError(f"{{{unknown[0]}}} stands for nothing; allowed: {{look}}, {{safety_first}}")
        return text


@dataclass(frozen=True, slots=True)
class AlarmWords:
    """What an alarm says to a person, its shared words filled in; `act_in_s` is the time to act, seconds."""

    title: str
    cause: str
    consequence: str
    action: str
    act_in_s: float


class AlarmTable(StrictPart):
    """A whole, checked table."""

    settings: Settings
    words: Words
    row: tuple[AlarmRow, ...]

    def row_for(self, condition: Condition, fault: SensorFault | None = None) -> AlarmRow | None:
        """Return the row that `condition` (of a sensor: with its fault) raises, None where it is no alarm."""
        return next((r for r in self.row if r.condition is condition and (fault is None or fault in r.faults)), None)

    def row_named(self, row_id: str) -> AlarmRow | None:
        """Return the row with this id, None where there is none."""
        return next((r for r in self.row if r.id == row_id), None)

    def shelve_most_s(self, alarm: Alarm) -> float:
        """Return for how long `alarm` may be put off, seconds; 0 for never."""
        row = self.row_named(alarm.row)
        return 0.0 if row is None or row.never_shelve else self.settings.shelve_most_s[alarm.priority - 1]

    def words_for(self, alarm: Alarm) -> AlarmWords:
        """Return the words of `alarm`; at priority 1 its action begins with the safety of people."""
        row = self.row_named(alarm.row)
        if row is None:
            raise ValueError(f"the alarm table has no row {alarm.row!r}")
        cause, consequence, action = (self._filled(getattr(row, field)) for field in _TEXTS)
        if alarm.priority == 1:
            action = f"{self.words.safety_first}\n{action}"
        return AlarmWords(row.title, cause, consequence, action, row.act_in_s)

    def _filled(self, text: str) -> str:
        return _PLACEHOLDER.sub(lambda found: str(getattr(self.words, found[1])), text)


def parse_table(text: str, file: str) -> AlarmTable:
    """Return the table that `text` (TOML, read from `file`) describes.

    Raises:
        ProblemsError: with every problem found, each naming `file`, the key and what is allowed.
    """
    return check_table(read_toml(text, file), file)


def check_table(raw: dict[str, Any], file: str) -> AlarmTable:
    """Return the table that `raw` (parsed TOML of `file`) describes.

    Raises:
        ProblemsError: with every problem found, each naming `file`, the key and what is allowed.
    """
    return check_part(AlarmTable, raw, file, hints=_PATTERN_HELP, across=_cross_problems(raw, file))


def _cross_problems(raw: dict[str, Any], file: str) -> list[str]:
    """Find repeated ids, numbers and conditions, and conditions without a row, in whatever is readable of `raw`."""
    rows = raw.get("row")
    rows = [r if isinstance(r, dict) else {} for r in rows] if isinstance(rows, list) else []
    problems = _repeated(file, "id", [[r.get("id")] for r in rows])
    problems += _repeated(file, "number", [[r.get("number")] for r in rows])
    raised = [_conditions(r) for r in rows]
    problems += _repeated(file, "condition", raised)
    there = {word for words in raised for word in words}
    needed = [c.value for c in Condition if c is not Condition.SENSOR] + [f"sensor {f}" for f in NEEDED_FAULTS]
    return problems + [
        f"{file}: row: no row for {word!r}: it would never sound" for word in needed if word not in there
    ]


def _conditions(row: dict[str, Any]) -> list[object]:
    faults = row.get("faults")
    if row.get("condition") == Condition.SENSOR:
        return [f"sensor {fault}" for fault in faults] if isinstance(faults, list) else []
    return [row.get("condition")]


def _repeated(file: str, key: str, words_by_row: list[list[object]]) -> list[str]:
    first: dict[object, int] = {}
    numbered = [(n, word) for n, words in enumerate(words_by_row, 1) for word in words if isinstance(word, str | int)]
    return [
        f"{file}: row[{number}].{key}: {word!r} is used by row[{first[word]}] too"
        for number, word in numbered
        if first.setdefault(word, number) != number
    ]
