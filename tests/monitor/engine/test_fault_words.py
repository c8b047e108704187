"""What is said of a faulty sensor."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.fault_words import WORDS, fault_finding
from monitor.engine.setup import EngineSetup
from monitor.engine.told import FaultChange
from monitor.model import FindingState, SensorFault

YES, NO = np.array([[True, False]]), np.zeros((1, 2), bool)


def test_every_fault_has_words_for_begin_and_end() -> None:
    """Both name the sensor."""
    for begin, end in WORDS.values():
        assert begin.startswith("{name} ")
        assert end.startswith("{name} ")


@pytest.mark.parametrize(
    ("fault", "why", "said"),
    [
        (SensorFault.LETTER, "", "firebox does not fit its neighbours as type K, but would as type S"),
        (SensorFault.SWAPPED, "", "firebox reads what back should"),
        (SensorFault.COLD_JUNCTION, "cold-off", "firebox has its cold junction +5.2 degrees"),
        (SensorFault.SPIKES, "hum", "Check the mains setting (50 or 60 Hz)"),
        (SensorFault.DRIFT, "pulled-out", "firebox fell to 40 degrees"),
        (SensorFault.FROZEN, "", "firebox has shown the very same value for 10 minutes"),
    ],
)
def test_the_words_say_what_is_wrong(
    make_setup: Callable[..., EngineSetup], fault: SensorFault, why: str, said: str
) -> None:
    """Letters, sizes and the other sensor are filled in."""
    change = FaultChange(fault, YES, NO, np.full((1, 2), 1000.0), np.array([[5.2, 0.0]]), np.array([[1, 0]]), why=why)
    finding = fault_finding(make_setup(["firebox", "back"]), change, (0, 0), known_at=1600.0, now_c=40.0)

    assert said in finding.text
    assert (finding.sensor, finding.fault, finding.onset) == ("firebox", fault, 1000.0)


def test_an_end_has_its_own_words(make_setup: Callable[..., EngineSetup]) -> None:
    """What is over is said to be over."""
    change = FaultChange(SensorFault.SHORT, NO, YES, np.full((1, 2), 1000.0))
    finding = fault_finding(make_setup(["firebox", "back"]), change, (0, 0), known_at=1600.0, now_c=900.0)

    assert finding.state is FindingState.END
    assert finding.text == "firebox reads the fire again."
