"""The track of sensors along a firing."""

from dataclasses import dataclass, fields, replace

import numpy as np
import pytest

from monitor.model import FloatArray
from simulator.probe.track import Track, Tracker
from simulator.spec.kiln_file import load_kiln
from simulator.spec.sensor_spec import ZIRCONIA, SensorSpec

DEMO = load_kiln("demo")
OXYGEN = SensorSpec("oxygen", "o1", ZIRCONIA, "front", 20.0, 0.5)
SPEC = replace(DEMO, sensors=(*DEMO.sensors, OXYGEN), shed_c=20.0, shed_swing_c=0.0)
LIT = 1_764_000_000
STEPS = 120
CLOCK_S = 5.0 * np.arange(1, STEPS + 1)


@dataclass(frozen=True)
class _Happened:
    junction_c: FloatArray
    ware_c: FloatArray
    air_kg_s: FloatArray
    demand_kg_s: FloatArray

    def rows(self, r: slice) -> "_Happened":
        return _Happened(*(getattr(self, f.name)[r] for f in fields(self)))


def _happened() -> _Happened:
    zones, sensors = (STEPS, len(SPEC.zones)), (STEPS, len(SPEC.sensors))
    rising = np.linspace(1000.0, 1100.0, STEPS)[:, None]
    demand = 0.05 + 0.02 * np.sin(np.arange(STEPS))[:, None]
    return _Happened(
        rising + np.zeros(sensors), 1200.0 + np.zeros(zones), 0.05 + np.zeros(zones), demand + np.zeros(zones)
    )


def _tracker() -> Tracker:
    return Tracker(SPEC, (), seed=1, lit=LIT, step_s=5.0)


def test_heads_are_warmer_than_the_shed_by_what_the_kiln_file_says() -> None:
    """Beside ware at 1200 degC: shed and rise, each sensor its own; terminals 8 degC above the shed."""
    track = _tracker().add(_happened(), CLOCK_S)

    np.testing.assert_allclose(track.head_c[0], [20.0 + s.head_rise_c for s in SPEC.sensors])
    np.testing.assert_allclose(track.terminals_c, 28.0)
    assert all(6.0 <= s.head_rise_c <= 35.0 for s in SPEC.sensors)


def test_only_oxygen_probes_have_a_cell() -> None:
    """Volts at the last sensor, none at thermocouples."""
    volts = _tracker().add(_happened(), CLOCK_S).cell_volts

    assert not volts[:, :-1].any()
    assert float(np.ptp(volts[:, -1])) > 0.1


def test_track_is_linear_between_steps() -> None:
    """Halfway between two steps is their mean."""
    track = _tracker().add(_happened(), CLOCK_S)
    between = track.at(np.array([7.5]))

    assert float(between.junction_c[0, 0]) == pytest.approx(0.5 * (track.junction_c[1, 0] + track.junction_c[2, 0]))


def test_cutting_into_blocks_changes_no_bit() -> None:
    """Blocks are led by the step before: every second is worked out the same."""
    happened, at_s = _happened(), np.arange(1.0, 601.0)
    whole = _tracker().add(happened, CLOCK_S).at(at_s)
    tracker = _tracker()
    parts: list[Track] = []
    for rows in (slice(0, 1), slice(1, 50), slice(50, STEPS)):
        clock_s = CLOCK_S[rows]
        own = at_s[(at_s > clock_s[0] - 5.0) & (at_s <= clock_s[-1])]
        parts.append(tracker.add(happened.rows(rows), clock_s).at(own))

    for column in fields(Track):
        joined = np.concatenate([getattr(p, column.name) for p in parts])
        np.testing.assert_array_equal(joined, getattr(whole, column.name))
