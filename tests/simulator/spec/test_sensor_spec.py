"""Sensors and switches that do not fit."""

from dataclasses import replace

import pytest

from simulator.spec.kiln_file import load_kiln
from simulator.spec.sensor_spec import ContactSpec, SensorSpec, sensor_misfits

SENSOR = SensorSpec("a", "t1", "K", "front", 6.0, 0.5)
ZONES = ("firebox", "front")


@pytest.mark.parametrize(
    ("sensors", "contacts", "words"),
    [
        ((replace(SENSOR, tolerance_class=3),), (), "sensor[0].tolerance_class: type K has classes 1, 2"),
        ((SENSOR, replace(SENSOR, input="t2", type="B", tolerance_class=1, id="b")), (), "sensor[1].tolerance_class"),
        (
            (SENSOR,),
            (ContactSpec("d1", "side", "attic"),),
            "contact[0].zone: there is no zone 'attic'; allowed are fire",
        ),
        ((SENSOR,), (ContactSpec("t1", "front"),), "sensor, contact: each needs an input of its own"),
        ((SENSOR, replace(SENSOR, input="t2")), (), "sensor: each needs an id of its own"),
    ],
)
def test_what_does_not_fit_is_told(
    sensors: tuple[SensorSpec, ...], contacts: tuple[ContactSpec, ...], words: str
) -> None:
    """One line for each mistake, with what is allowed; the classes are those of IEC 60584-1:2013."""
    (told,) = sensor_misfits(sensors, contacts, ZONES)

    assert told.startswith(words)


def test_kiln_that_comes_with_the_simulator_fits() -> None:
    """Nothing is told of the demo kiln, with a switch at its door and an oxygen probe in its flue."""
    spec = load_kiln("demo")
    oxygen = SensorSpec("oxygen", "o1", "zirconia", "flue", 20.0, 0.5)
    contacts = (ContactSpec("d1", "front"), ContactSpec("d2", "side", "middle"))

    assert sensor_misfits((*spec.sensors, oxygen), contacts, [z.name for z in spec.zones]) == []
