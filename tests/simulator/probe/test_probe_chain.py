"""What converters are offered, without chance."""

from dataclasses import fields, replace

import numpy as np
import pytest

from monitor.model import FloatArray
from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import total_emf
from monitor.thermocouple.reference import emf_from_temperature
from simulator.probe.converter_faults import Told
from simulator.probe.probe_chain import Gains, gains_of, misplaced, offered, said_letters, told_at
from simulator.probe.track import Track
from simulator.script.probe_faults import ProbeFault
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln
from simulator.spec.sensor_spec import ZIRCONIA, SensorSpec

DEMO = load_kiln("demo")
SPEC = replace(DEMO, sensors=(*DEMO.sensors, SensorSpec("oxygen", "o1", ZIRCONIA, "front", 20.0, 0.5)))
IDS = [s.id for s in SPEC.sensors]
MIDDLE, BACK, OXYGEN = IDS.index("middle"), IDS.index("back"), IDS.index("oxygen")
NO_SHARES = np.zeros(len(IDS))


def _track(celsius: float = 1200.0, **columns: float) -> Track:
    """Return a hundred seconds at rest, heads at 60 and terminals at 25 degC."""
    shape = (100, len(IDS))
    levels = {"junction_c": celsius, "head_c": 60.0, "terminals_c": 25.0} | columns
    made = {f.name: np.full(shape, levels.get(f.name, 0.0)) for f in fields(Track)}
    return Track(**made | {"clock_s": np.arange(1.0, 101.0)})


def _read(track: Track, i: int, *spells: Spell, shares: FloatArray = NO_SHARES) -> FloatArray:
    offer = offered(SPEC, spells, shares, track)
    letter = said_letters(SPEC, spells)[i]
    return temperature_from_emf(letter, total_emf(letter, offer.volts[:, i], offer.chip_c[:, i]))[0]


def _spell(what: ProbeFault, sensor: str | None = "back", size: float = 1.0) -> Spell:
    return Spell(what, 0.0, 1.0, size=size, sensor=sensor)


def test_well_probe_is_read_as_what_it_is() -> None:
    """Junction temperatures come back through the reference functions, to 1e-5 degC."""
    for i in range(len(IDS) - 1):
        np.testing.assert_allclose(_read(_track(), i), 1200.0, atol=1e-5)


def test_tolerance_and_age_count_in_proportion() -> None:
    """0.4 percent too high is 4.8 degC at 1200; 2 degC lost at 1000 are 2.4."""
    shares = np.where(np.arange(len(IDS)) == BACK, 0.004, 0.0)

    np.testing.assert_allclose(_read(_track(), BACK, shares=shares), 1204.8, atol=1e-4)
    np.testing.assert_allclose(_read(_track(wander_c=2.0), BACK), 1197.6, atol=1e-4)
    np.testing.assert_allclose(_read(_track(rot_c=2.0), BACK), 1197.6, atol=1e-4)


@pytest.mark.parametrize(("sensor", "i", "off_c"), [("back", BACK, 5.6), ("middle", MIDDLE, 2.5)])
def test_cold_junction_off_by_5_is_off_by_what_the_slopes_say(sensor: str, i: int, off_c: float) -> None:
    """F16 cold junction off by 5: K +5.6, S +2.5 degC at 1200, by the slopes of NIST Monograph 175, to 0.1 degC."""
    read = _read(_track(), i, _spell(ProbeFault.COLD_OFF, sensor, 5.0))

    np.testing.assert_allclose(read - 1200.0, off_c, atol=0.1)


def test_k_probe_called_s_reads_far_too_high_and_soon_out_of_range() -> None:
    """F09 wrong letter: 200 degC reads 794 (functions of NIST Monograph 175, 25 degC at the terminals); 600 is over."""
    spell = _spell(ProbeFault.LETTER)

    np.testing.assert_allclose(_read(_track(200.0, head_c=25.0), BACK, spell), 794.0, atol=3.0)
    assert np.isnan(_read(_track(600.0), BACK, spell)).all()
    assert gains_of(SPEC, (spell,))[BACK] == Gains(32, 32)


def test_s_probe_called_k_reads_far_too_low() -> None:
    """F10 wrong letter: 1000 degC reads 257 (functions of NIST Monograph 175, 25 degC at the terminals)."""
    read = _read(_track(1000.0, head_c=25.0), MIDDLE, _spell(ProbeFault.LETTER, "middle"))

    np.testing.assert_allclose(read, 257.0, atol=1.0)


def test_swapped_inputs_show_each_other() -> None:
    """F11 swapped: firebox and front, both S, exchanged for the time of the spell."""
    track = _track()
    track.junction_c[:, 0] = 1100.0
    spell = Spell(ProbeFault.SWAPPED, 50.5 / 3600.0, 1.0, size=1.0, sensor=IDS[0])
    first, second = _read(track, 0, spell), _read(track, 1, spell)

    np.testing.assert_allclose(first[:50], 1100.0, atol=1e-5)
    np.testing.assert_allclose(first[50:], 1200.0, atol=1e-5)
    np.testing.assert_allclose(second[50:], 1100.0, atol=1e-5)


def test_wrong_gain_is_the_other_one() -> None:
    """F25 wrong gain: the node reckons with one and the converter measures with the other."""
    gains = gains_of(SPEC, (_spell(ProbeFault.WRONG_GAIN), _spell(ProbeFault.WRONG_GAIN, "middle")))

    assert (gains[BACK], gains[MIDDLE]) == (Gains(8, 32), Gains(32, 8))


def test_oxygen_probe_offers_its_cell_and_its_warmth() -> None:
    """No cold junction, no letter."""
    offer = offered(SPEC, (), NO_SHARES, _track(900.0, cell_volts=0.7))

    assert np.all(offer.volts[:, OXYGEN] == 0.7)
    assert np.all(offer.chip_c[:, OXYGEN] == 900.0)


@pytest.mark.parametrize(
    ("volts", "chip_c", "told"),
    [(0.04, 25.0, Told.EMF), (0.08, 25.0, Told.RANGE), (np.nan, 25.0, Told.RANGE), (0.04, 90.0, Told.COLD_JUNCTION)],
)
def test_node_says_where_it_cannot_measure(volts: float, chip_c: float, told: Told) -> None:
    """Full scale at gain 8 is 78.125 mV; a converter works up to 85 degC (data sheet)."""
    offer = offered(SPEC, (), NO_SHARES, _track(terminals_c=chip_c, head_c=chip_c))
    said = told_at(offer, BACK, letter="K", measured=8, volts=np.full(100, volts))

    assert np.all(said == told)


@pytest.mark.parametrize(
    ("spell", "why"),
    [
        (_spell(ProbeFault.OPEN, "nowhere"), "no sensor 'nowhere'"),
        (_spell(ProbeFault.REVERSED, "oxygen"), "oxygen probe"),
        (_spell(ProbeFault.GREEN_ROT, "middle"), "only type K"),
        (Spell(ProbeFault.LETTER, 2.0, 1.0, sensor="back"), "from the start"),
        (_spell(ProbeFault.SWAPPED, "flue"), "no thermocouple"),
        (_spell(ProbeFault.SWAPPED, "back", 0.0), "no thermocouple"),
    ],
)
def test_what_cannot_happen_at_a_kiln_is_told(spell: Spell, why: str) -> None:
    """Each with its reason; what can, without."""
    assert why in misplaced(SPEC, (spell,))[0]


def test_what_can_happen_is_not_objected_to() -> None:
    """Every kind at a fitting sensor."""
    spells = tuple(_spell(f, None if f is ProbeFault.DEAD_BUS else "back") for f in ProbeFault)

    assert misplaced(SPEC, (*spells, _spell(ProbeFault.OPEN, "oxygen"))) == []


def test_reference_is_the_service_s_own() -> None:
    """Volts are differences of its reference function, to the last bit."""
    offer = offered(SPEC, (), NO_SHARES, _track(head_c=25.0))

    assert offer.volts[0, BACK] == emf_from_temperature("K", 1200.0) - emf_from_temperature("K", 25.0)
