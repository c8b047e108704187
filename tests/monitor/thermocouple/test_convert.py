"""Whole scans to temperatures: faults, cold junction, letters and corrections side by side."""

import numpy as np
import pytest

from monitor.model import ScanBlock, Status
from monitor.thermocouple.convert import Conversion, convert_block
from monitor.thermocouple.reference import emf_from_temperature


def block_of(shape: tuple[int, int], **columns: np.ndarray) -> ScanBlock:
    """Return a block in which nothing was sent but what is given, each broadcast to (n, S)."""
    filled = {name: np.array(np.broadcast_to(np.asarray(c, dtype=float), shape)) for name, c in columns.items()}
    fault = filled.pop("fault", np.zeros(shape)).astype(np.uint8)
    names = ("emf_volts", "cold_junction_c", "temperature_c", "oxygen_emf_volts")
    return ScanBlock(
        time=np.arange(shape[0], dtype=float),
        fault=fault,
        **{name: filled.get(name, np.full(shape, np.nan)) for name in names},
    )


def measured(letter: str, celsius: float, cold_junction_c: float) -> float:
    """Return the emf in volts that a converter sees."""
    return emf_from_temperature(letter, celsius) - emf_from_temperature(letter, cold_junction_c)


def mixed_block(count: int) -> tuple[ScanBlock, list[Conversion]]:
    """Return scans of seven sensors of four kinds with every sort of trouble sprinkled in, seeded."""
    rng = np.random.default_rng(count)
    shape = (count, 7)
    emf = rng.uniform(-0.012, 0.06, shape)
    emf[rng.random(shape) < 0.1] = np.nan
    cold_junction_c = rng.uniform(-60.0, 100.0, shape)
    cold_junction_c[rng.random(shape) < 0.1] = np.nan
    temperature_c = rng.uniform(-400.0, 3500.0, shape)
    fault = np.where(rng.random(shape) < 0.2, rng.integers(0, 5, shape), 0)
    block = block_of(shape, emf_volts=emf, cold_junction_c=cold_junction_c, temperature_c=temperature_c, fault=fault)
    points = ((0.0, 1.0), (700.0, -2.0))
    letters = ("K", "S", None, "B", "K", "S", None)
    return block, [Conversion(letter, points if i % 2 else ()) for i, letter in enumerate(letters)]


def test_each_sensor_is_converted_by_its_own_letter():
    """Letters may stand in any order; each keeps its column."""
    letters = ["K", "S", "K", "N", "S"]
    true_c = np.array([1000.0, 1100.0, 20.0, 700.0, 300.0])
    emf = np.array([measured(letter, t, 24.5) for letter, t in zip(letters, true_c, strict=True)])
    block = block_of((3, 5), emf_volts=emf, cold_junction_c=np.array(24.5))

    found = convert_block(block, [Conversion(letter) for letter in letters])

    np.testing.assert_allclose(found.celsius, np.broadcast_to(true_c, (3, 5)), rtol=0, atol=1e-6)
    assert (found.status == Status.OK).all()
    assert found.status.dtype == np.uint8
    np.testing.assert_array_equal(found.time, block.time)


@pytest.mark.parametrize("fault", [Status.ABSENT, Status.OPEN, Status.RANGE, Status.COLD_JUNCTION])
@pytest.mark.parametrize("letter", ["K", None])
def test_what_the_node_says_goes_before_any_number(fault: Status, letter: str | None):
    """A number that a faulty input still sends is not used."""
    block = block_of(
        (1, 1),
        emf_volts=np.array(0.02),
        cold_junction_c=np.array(25.0),
        temperature_c=np.array(500.0),
        fault=np.array(float(fault)),
    )

    found = convert_block(block, [Conversion(letter)])

    assert found.status[0, 0] == fault
    assert np.isnan(found.celsius[0, 0])


@pytest.mark.parametrize(
    ("letter", "emf_volts", "cold_junction_c", "status"),
    [
        ("K", 0.02, 25.0, Status.OK),
        ("K", np.nan, 25.0, Status.ABSENT),
        ("K", np.nan, np.nan, Status.ABSENT),
        ("K", 0.02, np.nan, Status.COLD_JUNCTION),
        ("K", 0.02, 128.0, Status.COLD_JUNCTION),
        ("K", 0.02, -64.0, Status.COLD_JUNCTION),
        ("K", 0.02, 85.0, Status.OK),
        ("K", 0.02, -40.0, Status.OK),
        ("K", 0.08, 128.0, Status.COLD_JUNCTION),
        ("K", -0.0080, 25.0, Status.BELOW),
        ("K", 0.0545, 25.0, Status.ABOVE),
        ("K", np.inf, 25.0, Status.ABOVE),
        ("S", 0.0188, 25.0, Status.ABOVE),
        ("S", 0.0186, 10.0, Status.OK),
        ("B", 0.0001, 25.0, Status.UNDEFINED),
        ("B", 0.0100, 25.0, Status.OK),
        ("B", 0.0100, -5.0, Status.COLD_JUNCTION),
    ],
)
def test_an_emf_becomes_a_number_or_the_reason_why_not(
    letter: str, emf_volts: float, cold_junction_c: float, status: Status
):
    """Ranges of NIST SRD 60; a converter works from -40 to 85 degC (common practice)."""
    block = block_of((1, 1), emf_volts=np.array(emf_volts), cold_junction_c=np.array(cold_junction_c))

    found = convert_block(block, [Conversion(letter, ((0.0, 5.0),))])

    assert found.status[0, 0] == status
    assert np.isfinite(found.celsius[0, 0]) == (status == Status.OK)


def test_finished_temperatures_pass_when_they_are_plausible():
    """NaN, infinity and numbers below absolute zero or above every kiln are ABSENT; emf of such an input is ignored."""
    asked = np.array([20.0, 1280.5, -273.15, -273.16, np.nan, np.inf, -np.inf, 3001.0])
    block = block_of((1, 8), temperature_c=asked, emf_volts=np.array(0.02))

    found = convert_block(block, [Conversion(None)] * 8)

    np.testing.assert_array_equal(found.celsius[0, :3], asked[:3])
    assert np.isnan(found.celsius[0, 3:]).all()
    assert list(found.status[0]) == [Status.OK] * 3 + [Status.ABSENT] * 5


def test_a_finished_temperature_is_nothing_to_a_thermocouple():
    """A sensor with a letter is judged by its emf alone."""
    block = block_of((1, 1), temperature_c=np.array(500.0))

    assert convert_block(block, [Conversion("K")]).status[0, 0] == Status.ABSENT


def test_correction_is_added_to_its_own_sensor_only():
    """Minus 3 degC at 1000, half of it at 500, for a thermocouple and for a finished temperature alike."""
    points = ((0.0, 0.0), (1000.0, -3.0))
    emf = np.array([measured("K", 1000.0, 25.0)] * 2 + [np.nan])
    block = block_of((1, 3), emf_volts=emf, cold_junction_c=np.array(25.0), temperature_c=np.array(500.0))

    found = convert_block(block, [Conversion("K", points), Conversion("K"), Conversion(None, points)])

    np.testing.assert_allclose(found.celsius[0], [997.0, 1000.0, 498.5], rtol=0, atol=1e-6)


def test_a_block_is_left_as_it_was():
    """Converting reads the block and changes nothing in it."""
    block, conversions = mixed_block(50)
    before = [np.copy(getattr(block, name)) for name in ("emf_volts", "cold_junction_c", "temperature_c", "fault")]

    convert_block(block, conversions)

    for was, name in zip(before, ("emf_volts", "cold_junction_c", "temperature_c", "fault"), strict=True):
        np.testing.assert_array_equal(getattr(block, name), was)


def test_cutting_a_recording_into_scans_changes_no_bit():
    """One scan at a time gives the numbers and statuses of the whole block, and no status goes with a wrong number."""
    block, conversions = mixed_block(400)
    whole = convert_block(block, conversions)

    scans = [
        convert_block(
            ScanBlock(
                time=block.time[i : i + 1],
                emf_volts=block.emf_volts[i : i + 1],
                cold_junction_c=block.cold_junction_c[i : i + 1],
                temperature_c=block.temperature_c[i : i + 1],
                oxygen_emf_volts=block.oxygen_emf_volts[i : i + 1],
                fault=block.fault[i : i + 1],
            ),
            conversions,
        )
        for i in range(400)
    ]

    np.testing.assert_array_equal(np.concatenate([s.celsius for s in scans]), whole.celsius)
    np.testing.assert_array_equal(np.concatenate([s.status for s in scans]), whole.status)
    np.testing.assert_array_equal(np.isnan(whole.celsius), whole.status != Status.OK)
    assert set(np.unique(whole.status)) == set(Status)


def test_an_empty_block_gives_an_empty_answer():
    """No scans, no temperatures, no error; no sensors neither."""
    assert convert_block(block_of((0, 2)), [Conversion("K"), Conversion(None)]).celsius.shape == (0, 2)
    assert convert_block(block_of((3, 0)), []).status.shape == (3, 0)
