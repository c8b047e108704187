"""A made-up kiln for the tests of alarms: its sensors, its calm present, and the shipped tables."""

from importlib.resources import files
from typing import Any

from monitor.alarms.phase import is_fired, phases_of
from monitor.alarms.prompt_table import PROMPTS_FILE, PROMPTS_PACKAGE, parse_prompts
from monitor.alarms.records import Agreed, Conditions, Host, WatchedSensor
from monitor.alarms.sign import Sight
from monitor.alarms.table import TABLE_FILE, TABLE_PACKAGE, parse_table

TABLE = parse_table((files(TABLE_PACKAGE) / TABLE_FILE).read_text("utf-8"), TABLE_FILE)
PROMPTS = parse_prompts((files(PROMPTS_PACKAGE) / PROMPTS_FILE).read_text("utf-8"), PROMPTS_FILE)
SENSORS = (
    WatchedSensor("firebox", "shed-1", in_chamber=False, place="firebox", limit_c=1350.0),
    WatchedSensor("front", "shed-1", in_chamber=True, place="front"),
    WatchedSensor("middle", "shed-1", in_chamber=True, place="middle"),
    WatchedSensor("back", "shed-2", in_chamber=True, place="back"),
    WatchedSensor("roof", "shed-2", in_chamber=False, place="timber"),
)
AGREED = Agreed(
    is_raw=True, spread_c=80.0, reduction_c=((900.0, 1000.0),), interval_s=((300.0, 1200.0), (1000.0, 360.0))
)
CLIMB = {"firebox": 700.0, "front": 620.0, "middle": 600.0, "back": 580.0, "roof": 30.0}
HIGH = {name: c + 600.0 if name != "roof" else c for name, c in CLIMB.items()}
DRYING = {"firebox": 300.0, "front": 110.0, "middle": 100.0, "back": 90.0, "roof": 20.0}
STEADY = dict.fromkeys(("firebox", "front", "middle", "back"), 40.0)
HEARD = Host(panels_with_sound=1, lowest_battery=0.8, free_bytes=8e9, host_c=50.0)
NOW = 1_800_000_000.0


def seen(**changes: Any) -> Conditions:
    """Return an undisturbed kiln in the climb at `NOW`, with `changes`."""
    calm: dict[str, Any] = {
        "guide": "middle", "celsius": CLIMB, "climb_c_per_h": STEADY, "node_silence_s": {"shed-1": 0.5, "shed-2": 0.5},
        "planned_c_per_h": 40.0, "behind_plan_s": 0.0, "last_stoke": NOW - 60.0, "last_sign": NOW - 60.0,
        "local_hour": 14.0, "plan_top_c": 1280.0, "host": HEARD,
    }  # fmt: skip
    return Conditions(**{**calm, **changes})


def sight(now: float = NOW, agreed: Agreed = AGREED, **changes: Any) -> Sight:
    """Return what signs are made of, with `changes` to the present."""
    conditions = seen(**changes)
    phases = phases_of(conditions, SENSORS, TABLE.settings, agreed)
    fired = is_fired(conditions, SENSORS, TABLE.settings)
    return Sight(now, conditions, agreed, TABLE.settings, SENSORS, fired, phases)


def never(_condition: object, _subject: object) -> bool:
    """Say that nothing held before."""
    return False


def always(_condition: object, _subject: object) -> bool:
    """Say that everything held before."""
    return True
