"""OpenMetrics text, read back by the strict parser of prometheus-client."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from prometheus_client.metrics_core import Metric
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from monitor.publish.messages import AlarmLine, Value
from monitor.publish.metrics import STATUS_WORDS, Measures, render_metrics

FRONT = Value("front", 612.5, "ok", "good", 0.4, 31.5, 2.25)
BACK = Value("back", None, "open", "F", 7.0, None, None)
ALARM = AlarmLine("fall", "r", 1, True, False, False, 5.0, 0.0, None, "front", "T", "t", "c", "q", "a", 600.0)
SEEN = msgspec.structs.replace(ALARM, key="node:shed-1", acked=True)
OVER = msgspec.structs.replace(ALARM, key="stall", priority=2, active=False)
FULL = Measures(
    version="0.1.0",
    kiln="demo-kiln",
    values=(FRONT, BACK),
    places={"front": "front", "back": "back"},
    node_age_s={"shed-1": 0.4},
    last_scan=1764000000.25,
    alarms=(ALARM, SEEN, OVER),
    lines_dropped={"crc": 3, "length": 0},
    scans={"accepted": 9000, "repeated": 2, "late": 1, "lost": 4},
    frames={"sent": 50},
    messages={"sent": 7, "dropped": 1},
    commits=11,
    slots=1800,
    store_failing=True,
    sources={"serial": True, "mqtt": False},
    broker_connected=False,
    panels=2,
    panels_with_sound=1,
)


def families_of(measures: Measures) -> list[Metric]:
    """Return the families that the strict parser finds."""
    return list(text_string_to_metric_families(render_metrics(measures)))  # type: ignore[no-untyped-call]


def read(measures: Measures) -> dict[str, dict[tuple[tuple[str, str], ...], float]]:
    """Return every sample by name and labels, as the parser reads it."""
    samples: dict[str, dict[tuple[tuple[str, str], ...], float]] = {}
    for family in families_of(measures):
        for sample in family.samples:
            samples.setdefault(sample.name, {})[tuple(sorted(sample.labels.items()))] = sample.value
    return samples


EXPECTED = {
    "nightstoke_build_info": {(("kiln", "demo-kiln"), ("version", "0.1.0")): 1.0},
    "nightstoke_temperature_celsius": {(("place", "front"), ("sensor", "front")): 612.5},
    "nightstoke_climb_celsius_per_hour": {(("sensor", "front"),): 31.5},
    "nightstoke_climb_uncertainty_celsius_per_hour": {(("sensor", "front"),): 2.25},
    "nightstoke_sensor_age_seconds": {(("sensor", "front"),): 0.4, (("sensor", "back"),): 7.0},
    "nightstoke_node_age_seconds": {(("node", "shed-1"),): 0.4},
    "nightstoke_last_scan_timestamp_seconds": {(): 1764000000.25},
    "nightstoke_lines_dropped_total": {(("kind", "crc"),): 3.0, (("kind", "length"),): 0.0},
    "nightstoke_scans_total": {
        (("kind", "accepted"),): 9000.0, (("kind", "late"),): 1.0,
        (("kind", "lost"),): 4.0, (("kind", "repeated"),): 2.0,
    },
    "nightstoke_frames_total": {(("kind", "sent"),): 50.0},
    "nightstoke_mqtt_messages_total": {(("kind", "dropped"),): 1.0, (("kind", "sent"),): 7.0},
    "nightstoke_store_commits_total": {(): 11.0},
    "nightstoke_engine_slots_total": {(): 1800.0},
    "nightstoke_alarms_active": {(("priority", "1"),): 2.0, (("priority", "2"),): 0.0, (("priority", "3"),): 0.0},
    "nightstoke_alarms_unseen": {(("priority", "1"),): 1.0, (("priority", "2"),): 1.0, (("priority", "3"),): 0.0},
    "nightstoke_store_failing": {(): 1.0},
    "nightstoke_source_working": {(("source", "mqtt"),): 0.0, (("source", "serial"),): 1.0},
    "nightstoke_broker_connected": {(): 0.0},
    "nightstoke_panels": {(): 2.0},
    "nightstoke_panels_with_sound": {(): 1.0},
}  # fmt: skip


def test_every_measure_is_read_back_with_its_labels() -> None:
    """Each figure comes out under its name, unit and labels, and nothing else does."""
    samples = read(FULL)

    status = samples.pop("nightstoke_sensor_status")
    assert samples == EXPECTED
    assert {labels for labels, on in status.items() if on} == {
        (("nightstoke_sensor_status", "ok"), ("sensor", "front")),
        (("nightstoke_sensor_status", "open"), ("sensor", "back")),
    }
    assert len(status) == 2 * len(STATUS_WORDS)


def test_units_and_types_are_declared() -> None:
    """Units are base units in the name's suffix, and counters are counters."""
    families = {f.name: f for f in families_of(FULL)}

    assert {name: f.unit for name, f in families.items() if f.unit} == {
        "nightstoke_temperature_celsius": "celsius",
        "nightstoke_climb_celsius_per_hour": "celsius_per_hour",
        "nightstoke_climb_uncertainty_celsius_per_hour": "celsius_per_hour",
        "nightstoke_sensor_age_seconds": "seconds",
        "nightstoke_node_age_seconds": "seconds",
        "nightstoke_last_scan_timestamp_seconds": "seconds",
    }
    assert {name for name, f in families.items() if f.type == "counter"} == {
        "nightstoke_lines_dropped", "nightstoke_scans", "nightstoke_frames", "nightstoke_mqtt_messages",
        "nightstoke_store_commits", "nightstoke_engine_slots",
    }  # fmt: skip
    assert families["nightstoke_sensor_status"].type == "stateset"
    assert all(f.documentation for f in families.values())


def test_what_is_not_known_has_no_line() -> None:
    """Before the first scan there is no temperature, no age and no time, rather than a zero."""
    samples = read(Measures(version="0.1.0", kiln="k", values=(Value("front", None, "absent", "F", None, None, None),)))

    assert sorted(samples) == [
        "nightstoke_alarms_active",
        "nightstoke_alarms_unseen",
        "nightstoke_build_info",
        "nightstoke_engine_slots_total",
        "nightstoke_panels",
        "nightstoke_panels_with_sound",
        "nightstoke_sensor_status",
        "nightstoke_store_commits_total",
        "nightstoke_store_failing",
    ]


def test_a_new_status_word_is_shown_as_it_is() -> None:
    """A status that this file does not list is still one of the states."""
    samples = read(Measures("0", "k", values=(msgspec.structs.replace(BACK, status="out-of-service"),)))

    on = [dict(labels) for labels, value in samples["nightstoke_sensor_status"].items() if value]
    assert on == [{"sensor": "back", "nightstoke_sensor_status": "out-of-service"}]


def test_nothing_of_the_process_is_mixed_in() -> None:
    """The text holds the service's own figures and ends as the standard asks."""
    text = render_metrics(FULL)

    assert text.endswith("# EOF\n")
    assert all(line.split()[2].startswith("nightstoke_") for line in text.splitlines() if line.startswith("# TYPE"))


@pytest.mark.parametrize("number", [0.1 + 0.2, 1e-9, 1764000000.123456, -200.0, 0.0])
def test_numbers_lose_nothing(number: float) -> None:
    """What is read back is the very same float."""
    samples = read(Measures("0", "k", values=(msgspec.structs.replace(FRONT, celsius=number),)))

    assert list(samples["nightstoke_temperature_celsius"].values()) == [number]


@given(kind=st.text(), version=st.text(max_size=20))
def test_any_word_survives_as_a_label(kind: str, version: str) -> None:
    """Quotes, backslashes, newlines and foreign letters come back as they went in."""
    samples = read(Measures(version=version, kiln="k", lines_dropped={kind: 1}))

    assert samples["nightstoke_lines_dropped_total"] == {(("kind", kind),): 1.0}
    assert samples["nightstoke_build_info"] == {(("kiln", "k"), ("version", version)): 1.0}
