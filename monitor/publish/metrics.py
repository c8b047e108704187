"""OpenMetrics text from plain figures, for whatever collects it.

The text format, its names, units and escaping are those of OpenMetrics 1.0, written by prometheus-client. Nothing is
registered anywhere and nothing counts here: the service keeps its own counters and hands them over as `Measures`.
Temperatures are degrees Celsius; a sensor without a valid value has no temperature line, only its status.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from prometheus_client.metrics_core import (
    CounterMetricFamily,
    GaugeMetricFamily,
    InfoMetricFamily,
    Metric,
    StateSetMetricFamily,
)
from prometheus_client.openmetrics.exposition import generate_latest
from prometheus_client.registry import Collector

from monitor.publish.messages import AlarmLine, Value

STATUS_WORDS = ("ok", "absent", "open", "range", "cold-junction", "below", "above", "undefined")
PRIORITIES = (1, 2, 3)


@dataclass(frozen=True, slots=True)
class Measures:
    """What the service knows of itself at the moment of asking.

    `places` names each sensor's place. Counters are by kind: `lines_dropped` (such as crc, length, json), `scans`
    (such as accepted, repeated, late, lost), `frames` (such as sent, dropped), `messages` (of MQTT), `events`
    (whatever else is counted rather than hidden). `commits` counts transactions of the store, `slots` what the
    engine judged. Ages are host seconds; `last_scan` is epoch seconds. `sources` tells which way in works,
    `broker_connected` is None where no broker is configured, `panels_with_sound` are among `panels`.
    """

    version: str
    kiln: str
    values: tuple[Value, ...] = ()
    places: Mapping[str, str] = field(default_factory=dict)
    node_age_s: Mapping[str, float] = field(default_factory=dict)
    last_scan: float | None = None
    alarms: tuple[AlarmLine, ...] = ()
    lines_dropped: Mapping[str, int] = field(default_factory=dict)
    scans: Mapping[str, int] = field(default_factory=dict)
    frames: Mapping[str, int] = field(default_factory=dict)
    messages: Mapping[str, int] = field(default_factory=dict)
    events: Mapping[str, int] = field(default_factory=dict)
    commits: int = 0
    slots: int = 0
    store_failing: bool = False
    sources: Mapping[str, bool] = field(default_factory=dict)
    broker_connected: bool | None = None
    panels: int = 0
    panels_with_sound: int = 0


def render_metrics(measures: Measures) -> str:
    """Return `measures` as OpenMetrics text."""
    text: bytes = generate_latest(_Asked(measures))  # type: ignore[no-untyped-call]
    return text.decode("utf-8")


class _Asked(Collector):
    """What the library collects from, in place of a registry: one answer to one question."""

    def __init__(self, measures: Measures) -> None:
        self._measures = measures

    def collect(self) -> Iterable[Metric]:
        """Yield every family of metrics; one without samples is left out."""
        for family in (*_of_build(self._measures), *_of_sensors(self._measures), *_of_the_chain(self._measures)):
            if family.samples:
                yield family


def _of_build(m: Measures) -> Iterable[Metric]:
    yield InfoMetricFamily("nightstoke_build", "Version and kiln.", {"version": m.version, "kiln": m.kiln})


def _of_sensors(m: Measures) -> Iterable[Metric]:
    valid = [v for v in m.values if v.celsius is not None]
    yield _gauge(
        "temperature", "celsius", "Newest valid temperature.", ("sensor", "place"),
        {(v.sensor, m.places.get(v.sensor, "")): v.celsius for v in valid},
    )  # fmt: skip
    yield _gauge(
        "climb", "celsius_per_hour", "Rate of rise net of stoke ripple.", ("sensor",),
        {(v.sensor,): v.climb_c_per_h for v in m.values},
    )  # fmt: skip
    yield _gauge(
        "climb_uncertainty", "celsius_per_hour", "Standard uncertainty of the rate of rise.", ("sensor",),
        {(v.sensor,): v.climb_uncertainty_c_per_h for v in m.values},
    )  # fmt: skip
    yield _gauge(
        "sensor_age", "seconds", "Time since the sensor was last heard.", ("sensor",),
        {(v.sensor,): v.age_s for v in m.values},
    )  # fmt: skip
    status = StateSetMetricFamily("nightstoke_sensor_status", "What became of the newest reading.", labels=["sensor"])
    for v in m.values:
        status.add_metric([v.sensor], {word: word == v.status for word in (*STATUS_WORDS, v.status)})
    yield status


def _of_the_chain(m: Measures) -> Iterable[Metric]:
    yield _gauge("node_age", "seconds", "Time since the node's last scan.", ("node",), _by_kind(m.node_age_s))
    yield _gauge("last_scan_timestamp", "seconds", "Time of the newest scan, Unix epoch.", (), {(): m.last_scan})
    yield _counter("lines_dropped", "Lines that were no valid pack.", m.lines_dropped)
    yield _counter("scans", "Scans by what became of them.", m.scans)
    yield _counter("frames", "Messages to panels.", m.frames)
    yield _counter("mqtt_messages", "Messages to the broker.", m.messages)
    yield _counter("events", "Whatever else is counted rather than hidden.", m.events)
    yield CounterMetricFamily("nightstoke_store_commits", "Transactions stored.", m.commits)
    yield CounterMetricFamily("nightstoke_engine_slots", "Slots of record time judged.", m.slots)
    yield _gauge("alarms_active", "", "Active alarms.", ("priority",), _by_priority(a for a in m.alarms if a.active))
    yield _gauge(
        "alarms_unseen", "", "Alarms nobody has seen.", ("priority",), _by_priority(a for a in m.alarms if not a.acked)
    )
    yield _gauge("store_failing", "", "1 while nothing can be stored.", (), {(): m.store_failing})
    yield _gauge("source_working", "", "1 while this way in works.", ("source",), _by_kind(m.sources))
    yield _gauge("broker_connected", "", "1 while the broker is connected.", (), {(): m.broker_connected})
    yield _gauge("panels", "", "Panels connected.", (), {(): m.panels})
    yield _gauge("panels_with_sound", "", "Panels whose sound runs.", (), {(): m.panels_with_sound})


def _gauge(
    name: str, unit: str, text: str, labels: tuple[str, ...], samples: Mapping[tuple[str, ...], float | None]
) -> Metric:
    family = GaugeMetricFamily(f"nightstoke_{name}", text, labels=labels, unit=unit)
    for words, number in samples.items():
        if number is not None:
            family.add_metric(words, float(number))
    return family


def _counter(name: str, text: str, by_kind: Mapping[str, int]) -> Metric:
    family = CounterMetricFamily(f"nightstoke_{name}", text, labels=["kind"])
    for kind, count in sorted(by_kind.items()):
        family.add_metric([kind], count)
    return family


def _by_kind(numbers: Mapping[str, float]) -> dict[tuple[str, ...], float | None]:
    return {(word,): number for word, number in sorted(numbers.items())}


def _by_priority(alarms: Iterable[AlarmLine]) -> dict[tuple[str, ...], float | None]:
    priorities = [a.priority for a in alarms]
    return {(str(p),): float(priorities.count(p)) for p in PRIORITIES}
