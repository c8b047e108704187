"""Wrong letters, wrong gains, exchanged inputs: what is named and what is left alone."""

from collections.abc import Sequence

import numpy as np
import pytest

from monitor.engine.letter import judge_letters, new_letters, other_letter
from monitor.engine.setup import EngineSetup, setup_from_sites
from monitor.model import FloatArray
from monitor.site_file import parse_site
from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import total_emf
from monitor.thermocouple.reference import emf_from_temperature

PLACES = ("firebox", "front", "middle", "back", "flue")
COLD_C = 25.0
TICKS = 12 * 16
Told = list[tuple[float, str, tuple[int, ...]]]


def _setup(letters: Sequence[str]) -> EngineSetup:
    text = '[kiln]\nname = "Test kiln"\n'
    for n, (place, letter) in enumerate(zip(PLACES, letters, strict=True)):
        text += f'[[sensor]]\nid = "{place}"\ninput = "shed-1/t{n}"\ntype = "{letter}"\nplace = "{place}"\n'
    return setup_from_sites([parse_site(text, "kiln.toml")])


def _fire(hours: float = TICKS / 12) -> FloatArray:
    """A slow preheat and a climb, each place cooler than the one before (made up)."""
    hour = np.arange(round(hours * 12)) / 12.0
    firebox = 25.0 + np.interp(hour, [0.0, 2.0, 8.0, 16.0], [0.0, 150.0, 450.0, 900.0])
    return 25.0 + (firebox - 25.0)[:, None] * np.array([1.0, 0.62, 0.52, 0.44, 0.36])


def _judge(said: Sequence[str], volts: FloatArray) -> Told:
    """Read `volts` (n, S) by the letters that the site file says and return hour, fault and who."""
    setup, told = _setup(said), []
    letters = new_letters(setup.shape)
    for tick, row in enumerate(volts):
        celsius = np.array(
            [temperature_from_emf(s, total_emf(s, float(v), COLD_C))[0] for s, v in zip(said, row, strict=True)]
        )
        celsius[np.isnan(celsius)] = np.inf  # beyond its letter
        raw = np.stack([row, np.full(5, COLD_C)])[:, None, :]
        now = 300.0 * (tick + 1)
        changes = judge_letters(letters, setup, celsius[None], raw, able=np.ones((1, 5), bool), now=now)
        told += [(tick / 12.0, c.fault.value, tuple(np.flatnonzero(c.begun[0]).tolist())) for c in changes]
    return told


def _volts(letters: Sequence[str], celsius: FloatArray) -> FloatArray:
    return np.stack(
        [emf_from_temperature(s, c) - emf_from_temperature(s, COLD_C) for s, c in zip(letters, celsius.T, strict=True)],
        axis=1,
    )


def test_the_mistake_is_as_large_as_tables_say() -> None:
    """F09: type K at 200 degC, cold end 25 degC, gives 8.138 - 1.000 mV (NIST ITS-90 tables); read as S, about 794."""
    volts = float(emf_from_temperature("K", 200.0) - emf_from_temperature("K", COLD_C))

    assert volts == pytest.approx(7.138e-3, abs=1e-6)
    assert temperature_from_emf("S", total_emf("S", volts, COLD_C))[0] == pytest.approx(794.0, abs=1.0)


@pytest.mark.parametrize("which", [0, 1, 2, 3, 4])
def test_a_base_metal_probe_set_as_noble_is_told_before_300_degrees(which: int) -> None:
    """F09, at every place."""
    letters = ["K"] * 5
    said = ["S" if n == which else "K" for n in range(5)]
    told = _judge(said, _volts(letters, _fire()))

    assert [t[1:] for t in told] == [("letter", (which,))]
    assert _fire()[round(told[0][0] * 12), which] < 300.0


@pytest.mark.parametrize("which", [1, 2, 3, 4])
def test_a_noble_probe_set_as_base_is_told(which: int) -> None:
    """F10: far below its neighbours."""
    letters = ["S"] * 5
    said = ["K" if n == which else "S" for n in range(5)]

    assert [t[1:] for t in _judge(said, _volts(letters, _fire()))] == [("letter", (which,))]


@pytest.mark.parametrize(("letter", "gain"), [("S", 0.25), ("K", 4.0)])
def test_a_wrong_gain_is_told_as_drift(letter: str, gain: float) -> None:
    """F25: noble metal a quarter, base metal four times of what it is."""
    volts = _volts([letter] * 5, _fire())
    volts[:, 2] *= gain

    assert [t[1:] for t in _judge([letter] * 5, volts)] == [("drift", (2,))]


def test_two_inputs_of_different_metal_exchanged_are_told_together() -> None:
    """F11: front (S) and back (K) read each other's probe."""
    letters = ["S", "S", "K", "K", "K"]
    volts = _volts(letters, _fire())
    volts[:, [1, 3]] = volts[:, [3, 1]]

    assert [t[1:] for t in _judge(letters, volts)] == [("swapped", (1, 3))]


def test_two_inputs_of_one_metal_are_told_by_the_order_of_places() -> None:
    """F11: the back is hotter than the front for two hours."""
    volts = _volts(["K"] * 5, _fire())
    volts[:, [1, 3]] = volts[:, [3, 1]]
    told = _judge(["K"] * 5, volts)

    assert [t[1:] for t in told] == [("swapped", (1, 3))]
    assert told[0][0] >= 2.0


@pytest.mark.parametrize("letters", ["SSSKK", "KKKKK", "SSSSS", "SKNKS", "RSKNN"])
def test_a_well_wired_kiln_is_left_alone(letters: str) -> None:
    """Whatever it is wired with."""
    assert _judge(list(letters), _volts(list(letters), _fire())) == []


def test_the_likely_letter_is_the_common_one() -> None:
    """K for noble metal, S for base metal."""
    assert [other_letter(letter) for letter in "RSBKN"] == ["K", "K", "K", "S", "S"]


def test_readings_beyond_their_letter_are_bounded() -> None:
    """Two base metal probes set as noble in a hot kiln: both beyond the letter, and nothing breaks."""
    celsius = np.full((30, 5), 900.0)

    assert all(fault != "drift" for _, fault, _ in _judge(["S", "S", "K", "K", "K"], _volts(["K"] * 5, celsius)))
