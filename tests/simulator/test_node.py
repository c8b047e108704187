"""From truth to scans: noise, steps, numbers, and what each fault makes of them."""

from dataclasses import fields, replace

import numpy as np
import pytest

from monitor.model import FloatArray, InputFault, Reading, Scan
from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import total_emf
from monitor.thermocouple.tolerance import limit_c
from simulator.firing import FINE_S, Trace
from simulator.node import Node, Readout, boot_of
from simulator.probe.converter import FULL_SCALE_VOLTS, gain_of, step_volts
from simulator.probe.converter_faults import Told
from simulator.script.probe_faults import ProbeFault
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln
from simulator.spec.sensor_spec import ZIRCONIA, ContactSpec, SensorSpec

SPEC = replace(load_kiln("demo"), shed_c=20.0, shed_swing_c=0.0)
"""A shed that stays at 20 degC."""
FIREBOX, MIDDLE, BACK = 0, 2, 3
OXYGEN_SPEC = replace(
    SPEC,
    sensors=(*SPEC.sensors, SensorSpec("oxygen", "o1", ZIRCONIA, "front", 20.0, 0.5)),
    contacts=(ContactSpec("d1", "front"), ContactSpec("d2", "side", "middle")),
)


def _trace(steps: int, *, celsius: float = 1000.0, begin_s: int = 0, spec: object = SPEC, ratio: float = 1.2) -> Trace:
    """Return a kiln that stands still; a cold ware keeps heads and terminals at the shed's temperature."""
    assert spec in (SPEC, OXYGEN_SPEC)
    zones, sensors = (steps, len(SPEC.zones)), (steps, len((OXYGEN_SPEC if spec is OXYGEN_SPEC else SPEC).sensors))
    columns = {f.name: np.zeros(steps) for f in fields(Trace)}
    columns |= {name: np.zeros(zones) for name in ("gas_c", "face_c", "ware_c", "air_kg_s", "demand_kg_s", "ports")}
    columns["clock_s"] = begin_s + FINE_S * np.arange(1, steps + 1, dtype=np.float64)
    columns["junction_c"] = np.full(sensors, celsius)
    columns["air_kg_s"] += 0.05
    columns["demand_kg_s"] += 0.05 / ratio
    return Trace(**columns)


def _node(*spells: Spell, seed: int = 1) -> Node:
    return Node(SPEC, spells, seed=seed, lit=1_764_000_000, boot="00c0ffee")


def _celsius(readout: Readout, i: int, letter: str | None = None) -> FloatArray:
    """Return what a service makes of input `i`; NaN where the node gives no emf."""
    letter = letter or SPEC.sensors[i].type
    emf = total_emf(letter, readout.emf_volts[:, i], readout.cold_junction_c[:, i])
    return np.where(readout.told[:, i] == Told.EMF, temperature_from_emf(letter, emf)[0], np.nan)


@pytest.mark.parametrize(
    ("sensor", "letter", "hot_mv", "cold_mv"), [(BACK, "K", 41.276, 0.798), (FIREBOX, "S", 9.587, 0.113)]
)
def test_emf_is_that_of_the_printed_tables(sensor: int, letter: str, hot_mv: float, cold_mv: float) -> None:
    """NIST Monograph 175, values at 1000 and 20 degC: over many new probes the mean emf is their difference."""
    assert SPEC.sensors[sensor].type == letter
    emf_mv = [_node(seed=s).read(_trace(2), 1).emf_volts[:, sensor].mean() * 1e3 for s in range(300)]

    slope_mv_c = {"K": 0.0390, "S": 0.0115}[letter]
    assert float(np.mean(emf_mv)) == pytest.approx(hot_mv - cold_mv, abs=0.4 * slope_mv_c)


def test_new_probes_are_inside_their_class() -> None:
    """IEC 60584-1:2013: every probe of the kiln, many seeds, read with 1 degC for converter and cold junction."""
    read = np.stack(
        [
            [float(np.mean(_celsius(readout, i))) for i in range(len(SPEC.sensors))]
            for readout in (_node(seed=s).read(_trace(4), 1) for s in range(100))
        ]
    )
    limits = [float(limit_c(s.type, s.tolerance_class, np.array([1000.0]))[0]) for s in SPEC.sensors]

    assert np.all(np.abs(read - 1000.0).max(axis=0) < np.array(limits) + 1.0)
    assert np.all(read.std(axis=0) > 0.3 * np.array(limits))


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


ALL_AT_ONCE = (
    Spell(ProbeFault.HOT_WIRE, 0.002, 0.01, sensor="firebox"),
    Spell(ProbeFault.STUCK, 0.003, 0.01, sensor="front"),
    Spell(ProbeFault.SPIKES, 0.001, 0.01, size=5.0, sensor="middle"),
    Spell(ProbeFault.CACHED, 0.004, 0.01, sensor="back"),
    Spell(ProbeFault.GREEN_ROT, 0.0, 1.0, size=200.0, sensor="back-low"),
    Spell(ProbeFault.HUM, 0.001, 0.01, size=0.5, sensor="flue"),
)


def test_cutting_into_blocks_changes_nothing() -> None:
    """A minute with faults, an oxygen probe and doors: one block or four give the same scans."""
    whole = _trace(12, spec=OXYGEN_SPEC, ratio=0.95)
    whole.junction_c[:] += np.arange(12.0)[:, None]
    whole.door[3:5] = 0.7
    rows = [slice(0, 1), slice(1, 5), slice(5, 6), slice(6, 12)]

    def scans(traces: list[Trace]) -> list[Scan]:
        node = Node(OXYGEN_SPEC, ALL_AT_ONCE, seed=3, lit=1_764_000_000, boot="b")
        return [scan for trace in traces for scan in node.scans(node.read(trace, 1))]

    pieces = [Trace(*(getattr(whole, f.name)[r] for f in fields(Trace))) for r in rows]
    assert scans(pieces) == scans([whole])
    assert len(scans([whole])) == 60


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

    np.testing.assert_array_equal(one.emf_volts, same.emf_volts)
    np.testing.assert_array_equal(one.cold_junction_c, same.cold_junction_c)
    assert not np.array_equal(one.emf_volts, other.emf_volts)


def _during(
    what: ProbeFault, *, size: float = 1.0, celsius: float = 1000.0, sensor: str = "middle"
) -> list[Reading | None]:
    """Return what the input of `sensor` says in ten scans, the fault being on in those numbered 3 to 6."""
    node = _node(Spell(what, 3.0 / 3600.0, 4.0 / 3600.0, size=size, sensor=sensor))
    name = f"shed-1/{next(s.input for s in SPEC.sensors if s.id == sensor)}"
    scans = list(node.scans(node.read(_trace(2, celsius=celsius), 1)))
    return [next((r for r in scan.readings if r.input == name), None) for scan in scans]


@pytest.mark.parametrize(
    ("what", "fault"),
    [
        (ProbeFault.OPEN, InputFault.OPEN),
        (ProbeFault.OVER_VOLTAGE, InputFault.RANGE),
        (ProbeFault.COLD_LOST, InputFault.COLD_JUNCTION),
    ],
)
def test_fault_stands_in_place_of_the_emf(what: ProbeFault, fault: InputFault) -> None:
    """F01 open, F17 cold junction lost, F19 over or under voltage: a word, never a number; others go on."""
    said = _during(what)

    assert [r is not None and r.fault is fault for r in said] == [3 <= n < 7 for n in range(1, 11)]
    assert all(r is not None and (r.emf_volts is None) == (r.fault is not None) for r in said)


def test_lost_cold_junction_is_not_told() -> None:
    """F17: where the cold junction is what is wrong, there is none; where it is not, it is told."""
    lost, open_ = (_during(f)[4] for f in (ProbeFault.COLD_LOST, ProbeFault.OPEN))

    assert lost is not None
    assert lost.cold_junction_c is None
    assert open_ is not None
    assert open_.cold_junction_c == pytest.approx(20.0, abs=0.7)


@pytest.mark.parametrize("what", [ProbeFault.NO_RESULT, ProbeFault.CONVERTER_RESET])
def test_silent_input_is_left_out_of_the_scan(what: ProbeFault) -> None:
    """F22 converter reset, F24 no fresh result: no old value is sent, the other inputs are."""
    assert [r is None for r in _during(what)] == [3 <= n < 7 for n in range(1, 11)]


def test_dead_bus_silences_every_input_and_the_node_goes_on() -> None:
    """F23 bus all 0 or all 1: scans with nothing but their number."""
    node = _node(Spell(ProbeFault.DEAD_BUS, 3.0 / 3600.0, 4.0 / 3600.0))
    scans = list(node.scans(node.read(_trace(2), 1)))

    assert [len(s.readings) for s in scans] == [6, 6, 0, 0, 0, 0, 6, 6, 6, 6]
    assert [s.seq for s in scans] == list(range(10))


def test_hot_wire_toggles_between_first_and_last_break() -> None:
    """F02 open, intermittent: open and closed in turns within the spell, good scans kept."""
    node = _node(Spell(ProbeFault.HOT_WIRE, 0.05, 0.1, sensor="middle"))
    readout = node.read(_trace(120), 1)
    is_open = readout.told[:, MIDDLE] == Told.OPEN
    inside = (readout.clock_s >= 180) & (readout.clock_s < 540)

    assert is_open[inside].any()
    assert not is_open[inside].all()
    assert not is_open[~inside].any()
    assert is_open[readout.clock_s == 180]


def test_stuck_converter_repeats_its_emf_while_the_cold_junction_moves() -> None:
    """F18 stuck: the very same emf; noise of two counts would move it."""
    trace = _trace(24)
    trace.ware_c[:] = np.linspace(0.0, 1200.0, 24)[:, None]
    node = _node(Spell(ProbeFault.STUCK, 30.0 / 3600.0, 1.0, sensor="middle"))
    readout = node.read(trace, 1)
    during = readout.clock_s >= 30

    assert np.ptp(readout.emf_volts[during, MIDDLE]) == 0.0
    assert np.ptp(readout.cold_junction_c[during, MIDDLE]) > 4.0
    assert np.ptp(readout.emf_volts[~during, MIDDLE]) > 0.0


def test_cached_answer_repeats_both() -> None:
    """F47 a reader between that repeats its last answer: emf and cold junction stand."""
    trace = _trace(24)
    trace.ware_c[:] = np.linspace(0.0, 1200.0, 24)[:, None]
    readout = _node(Spell(ProbeFault.CACHED, 30.0 / 3600.0, 1.0, sensor="middle")).read(trace, 1)
    during = readout.clock_s >= 30

    assert np.ptp(readout.emf_volts[during, MIDDLE]) == 0.0
    assert np.ptp(readout.cold_junction_c[during, MIDDLE]) == 0.0


@pytest.mark.parametrize(("what", "size", "most_mv"), [(ProbeFault.SPIKES, 5.0, 5.0), (ProbeFault.HUM, 0.5, 0.5)])
def test_what_leaks_in_is_on_top_of_the_emf(what: ProbeFault, size: float, most_mv: float) -> None:
    """F20 spikes, F21 hum: as many millivolts as the size says."""
    clean, ailing = (
        _node(*spells).read(_trace(240), 1).emf_volts[:, BACK]
        for spells in ((), (Spell(what, 0.0, 1.0, size=size, sensor="back"),))
    )

    assert float(np.abs(ailing - clean).max()) * 1e3 == pytest.approx(most_mv, rel=0.02)


@pytest.mark.parametrize(("sensor", "i", "factor"), [("middle", MIDDLE, 0.25), ("firebox", FIREBOX, 0.25)])
def test_code_of_gain_8_taken_for_one_of_gain_32_is_a_quarter(sensor: str, i: int, factor: float) -> None:
    """F25 wrong gain: V = code / (gain x 1.6 x 2^17)."""
    right, wrong = (
        float(_node(*spells).read(_trace(24), 1).emf_volts[:, i].mean())
        for spells in ((), (Spell(ProbeFault.WRONG_GAIN, 0.0, 9.0, sensor=sensor),))
    )

    assert wrong == pytest.approx(factor * right, rel=1e-3)


def test_wrong_letter_is_measured_at_the_wrong_letter_s_gain() -> None:
    """F09 a K probe taken for S: its emf at 1000 degC is beyond full scale at gain 32; F10 an S probe's is exact."""
    k, s = (Spell(ProbeFault.LETTER, 0.0, 9.0, sensor=sensor) for sensor in ("back", "middle"))
    readout = _node(k, s).read(_trace(24), 1)
    clean = _node().read(_trace(24), 1)

    assert FULL_SCALE_VOLTS[32] < 0.041
    assert np.all(readout.told[:, BACK] == Told.RANGE)
    np.testing.assert_allclose(readout.emf_volts[:, MIDDLE], clean.emf_volts[:, MIDDLE], atol=8e-6)


@pytest.mark.parametrize("what", [ProbeFault.SHORT, ProbeFault.REVERSED, ProbeFault.PULLED_OUT])
def test_lead_faults_reach_the_scans(what: ProbeFault) -> None:
    """F03 short, F05 reversed, F14 pulled out: the number falls, within two minutes, and comes from the same input."""
    readout = _node(Spell(what, 60.0 / 3600.0, 1.0, sensor="back")).read(_trace(48), 1)
    celsius = _celsius(readout, BACK)

    assert abs(celsius[30] - 1000.0) < 10.0
    assert celsius[-1] < 60.0 or np.isnan(celsius[-1])
    assert abs(_celsius(readout, MIDDLE)[-1] - 1000.0) < 10.0


def test_junction_beyond_its_type_is_out_of_range() -> None:
    """Type K ends at 1372 degC; type S goes on."""
    node = _node()
    scan = next(node.scans(node.read(_trace(1, celsius=1400.0), 1)))

    letters = [s.type for s in SPEC.sensors]
    assert [r.fault for r in scan.readings] == [InputFault.RANGE if letter == "K" else None for letter in letters]


def test_fault_that_cannot_be_is_refused() -> None:
    """A scenario for another kiln is not run as if nothing were wrong."""
    with pytest.raises(ValueError, match="no sensor 'attic'"):
        _node(Spell(ProbeFault.OPEN, 0.0, 1.0, sensor="attic"))


def test_oxygen_probe_sends_its_emf_with_its_temperature() -> None:
    """Volts and degC, no cold junction; 24 mV or so in lean gas, hundreds in rich."""

    def last(ratio: float, *spells: Spell) -> Reading:
        node = Node(OXYGEN_SPEC, spells, seed=1, lit=1_764_000_000, boot="b")
        scans = list(node.scans(node.read(_trace(24, spec=OXYGEN_SPEC, ratio=ratio), 1)))
        return next(r for r in scans[-1].readings if r.input == "shed-1/o1")

    lean, rich = last(2.0), last(0.8)
    broken = last(2.0, Spell(ProbeFault.OPEN, 0.0, 1.0, sensor="oxygen"))

    assert lean.oxygen_emf_volts == pytest.approx(0.022, abs=0.006)
    assert rich.oxygen_emf_volts == pytest.approx(0.783, abs=0.03)
    assert lean.temperature_c == pytest.approx(1000.0, abs=3.0)
    assert lean.emf_volts is lean.cold_junction_c is None
    assert (broken.fault, broken.oxygen_emf_volts, broken.temperature_c) == (InputFault.OPEN, None, None)


def test_doors_are_true_while_they_stand_open() -> None:
    """The stoke door for eight seconds, the middle's side port for two."""
    trace = _trace(4, spec=OXYGEN_SPEC)
    trace.door[1], trace.door[2] = 1.0, 0.6
    trace.ports[2, OXYGEN_SPEC.zone_index("middle")] = 0.4
    node = Node(OXYGEN_SPEC, (), seed=1, lit=1_764_000_000, boot="b")
    scans = list(node.scans(node.read(trace, 1)))
    open_at = {
        name: [n for n, scan in enumerate(scans, 1) if any(r.input == name and r.contact for r in scan.readings)]
        for name in ("shed-1/d1", "shed-1/d2")
    }

    assert open_at == {"shed-1/d1": [6, 7, 8, 9, 10, 11, 12, 13], "shed-1/d2": [11, 12]}
    assert all(r.contact is not None for r in scans[0].readings[-2:])


def test_boot_differs_by_seed_and_start() -> None:
    """Eight hex digits, the same for the same run."""
    boots = {boot_of(1, 100, 0), boot_of(2, 100, 0), boot_of(1, 101, 0), boot_of(1, 100, 5)}

    assert len(boots) == 4
    assert boot_of(1, 100, 0) in boots
    assert all(len(b) == 8 and int(b, 16) >= 0 for b in boots)
