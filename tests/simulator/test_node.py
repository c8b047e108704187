"""From truth to scans."""

import numpy as np
import pytest

from monitor.model import InputFault, Scan
from simulator.converter import gain_of, step_volts
from simulator.firing import FINE_S, Trace
from simulator.kiln_file import load_kiln
from simulator.node import Node, Readout, boot_of
from simulator.probe_faults import ProbeFault
from simulator.spells import Spell

SPEC = load_kiln("demo")
ZONES, SENSORS = len(SPEC.zones), len(SPEC.sensors)
FIREBOX, BACK = 0, 3


def _trace(steps: int, *, junction_c: float = 1000.0, begin_s: int = 0, shed: float = 20.0) -> Trace:
    """Return a kiln that stands still; a cold ware keeps the terminals at the shed's temperature."""
    level, zones = np.full(steps, shed), np.zeros((steps, ZONES))
    clock_s = begin_s + FINE_S * np.arange(1, steps + 1, dtype=np.float64)
    junctions = np.full((steps, SENSORS), junction_c)
    return Trace(clock_s, zones, zones, zones, junctions, level, zones, zones, level * 0.0, zones, level, level * 0.0)


def _node(*spells: Spell, seed: int = 1) -> Node:
    return Node(SPEC, spells, seed=seed, lit=1_764_000_000, boot="00c0ffee")


@pytest.mark.parametrize(
    ("sensor", "letter", "hot_mv", "cold_mv"), [(BACK, "K", 41.276, 0.798), (FIREBOX, "S", 9.587, 0.113)]
)
def test_emf_is_that_of_the_printed_tables(sensor: int, letter: str, hot_mv: float, cold_mv: float) -> None:
    """NIST Monograph 175, values at 1000 and 20 degC: measured emf is their difference, but for the sensor's offset."""
    assert SPEC.sensors[sensor].type == letter
    emf_mv = _node().read(_trace(120), 1).emf_volts[:, sensor].mean() * 1e3

    slope_mv_c = {"K": 0.0390, "S": 0.0115}[letter]
    assert emf_mv - SPEC.sensors[sensor].offset_c * slope_mv_c == pytest.approx(hot_mv - cold_mv, abs=0.002)


def test_every_emf_lies_on_a_step_of_the_converter() -> None:
    """Each printed number is the one nearest to a whole code."""
    emf = _node().read(_trace(120), 1).emf_volts
    for i, sensor in enumerate(SPEC.sensors):
        step = step_volts(gain_of(sensor.type))

        np.testing.assert_array_equal(emf[:, i], np.round(np.rint(emf[:, i] / step) * step, 9))


def test_cold_junctions_differ_a_little_and_come_in_steps() -> None:
    """Each converter has its own small error, in whole 1/64 degC."""
    cold_c = _node().read(_trace(12), 1).cold_junction_c

    np.testing.assert_array_equal(cold_c * 64.0, np.rint(cold_c * 64.0))
    assert 0.0 < np.ptp(cold_c[0]) < 1.4
    assert np.all(np.abs(cold_c - 20.0) < 0.7)


def test_scans_are_numbered_timed_and_named() -> None:
    """One scan a second of kiln time, each with its number in the boot."""
    node = _node()
    scans = list(node.scans(node.read(_trace(2, begin_s=100), 1)))

    assert [s.time for s in scans] == [1_764_000_100.0 + n for n in range(1, 11)]
    assert [s.seq for s in scans] == list(range(10))
    assert {(s.node, s.boot) for s in scans} == {("shed-1", "00c0ffee")}
    assert [r.input for r in scans[0].readings] == [f"shed-1/t{n}" for n in range(1, 7)]


def _readouts_equal(one: Readout, other: Readout) -> bool:
    return np.array_equal(one.emf_volts, other.emf_volts) and np.array_equal(one.cold_junction_c, other.cold_junction_c)


def test_cutting_into_blocks_changes_nothing() -> None:
    """Scans of ten seconds over a minute: one block or four give the same numbers, without gap or repeat."""
    whole = _trace(12)
    rows = [slice(0, 1), slice(1, 5), slice(5, 6), slice(6, 12)]
    names = Trace.__slots__
    pieces = [Trace(*(getattr(whole, n)[r] for n in names)) for r in rows]
    node = _node()
    parts = [node.read(piece, 1) for piece in pieces]
    once = _node().read(whole, 1)

    np.testing.assert_array_equal(np.concatenate([p.clock_s for p in parts]), once.clock_s)
    np.testing.assert_array_equal(np.concatenate([p.emf_volts for p in parts]), once.emf_volts)


def test_sparse_scans_fall_on_whole_tens_of_seconds() -> None:
    """The lead-in's clock is that of the kiln."""
    assert _node().read(_trace(12), 10).clock_s.tolist() == [10, 20, 30, 40, 50, 60]


def test_block_shorter_than_the_interval_may_hold_no_scan() -> None:
    """Nothing is due yet: nothing is sent."""
    node = _node()

    assert list(node.scans(node.read(_trace(1), 10))) == []


def test_seed_decides_the_noise() -> None:
    """Same seed, same numbers; another seed, others."""
    one, same, other = (_node(seed=s).read(_trace(4), 1) for s in (1, 1, 2))

    assert _readouts_equal(one, same)
    assert not _readouts_equal(one, other)


def _faults(scan: Scan) -> list[InputFault | None]:
    return [r.fault for r in scan.readings]


def test_broken_probe_says_open_for_as_long_as_it_is_broken() -> None:
    """The fault stands in place of the emf; cold junction and other inputs go on."""
    node = _node(Spell(ProbeFault.OPEN, 3.0 / 3600.0, 4.0 / 3600.0, sensor="middle"))
    scans = list(node.scans(node.read(_trace(2), 1)))

    middle = [s.readings[2] for s in scans]
    assert [r.fault is InputFault.OPEN for r in middle] == [3 <= n < 7 for n in range(1, 11)]
    assert all((r.emf_volts is None) == (r.fault is not None) for r in middle)
    assert all(r.cold_junction_c is not None for r in middle)
    assert all(f is None for s in scans for i, f in enumerate(_faults(s)) if i != 2)


def test_junction_beyond_its_type_is_out_of_range() -> None:
    """Type K ends at 1372 degC; type S goes on."""
    node = _node()
    scan = next(node.scans(node.read(_trace(1, junction_c=1400.0), 1)))

    letters = [s.type for s in SPEC.sensors]
    assert _faults(scan) == [InputFault.RANGE if letter == "K" else None for letter in letters]


def test_boot_differs_by_seed_and_start() -> None:
    """Eight hex digits, the same for the same run."""
    boots = {boot_of(1, 100, 0), boot_of(2, 100, 0), boot_of(1, 101, 0), boot_of(1, 100, 5)}

    assert len(boots) == 4
    assert boot_of(1, 100, 0) in boots
    assert all(len(b) == 8 and int(b, 16) >= 0 for b in boots)
