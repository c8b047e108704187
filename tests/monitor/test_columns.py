"""Scans become columns in the site's order, and what was not sent stays absent."""

import numpy as np

from monitor.columns import to_block
from monitor.model import InputFault, Reading, Scan, Status

INDEX = {"shed-1/t1": 0, "shed-1/t2": 1, "house/o2": 2}


def test_each_reading_lands_in_its_sensor_column() -> None:
    """Emf, cold junction, fault, finished temperature and oxygen emf each have their place."""
    scans = [
        Scan(
            "shed-1",
            10.0,
            (
                Reading("shed-1/t1", emf_volts=0.0332751, cold_junction_c=24.81),
                Reading("shed-1/t2", fault=InputFault.OPEN, cold_junction_c=24.79),
                Reading("shed-1/t9", emf_volts=1.0),
            ),
        ),
        Scan("house", 11.0, (Reading("house/o2", oxygen_emf_volts=0.7, temperature_c=900.0),)),
    ]

    block = to_block(scans, INDEX)

    assert block.time.tolist() == [10.0, 11.0]
    assert block.fault.tolist() == [
        [Status.OK, Status.OPEN, Status.ABSENT],
        [Status.ABSENT, Status.ABSENT, Status.OK],
    ]
    assert block.emf_volts[0, 0] == 0.0332751
    assert block.cold_junction_c[0].tolist()[:2] == [24.81, 24.79]
    assert block.oxygen_emf_volts[1, 2] == 0.7
    assert block.temperature_c[1, 2] == 900.0
    assert np.isnan(block.emf_volts[0, 1:]).all()
    assert np.isnan(block.emf_volts[1]).all()


def test_oxygen_emf_without_temperature_is_no_temperature() -> None:
    """A probe that sends its emf alone has no temperature to show."""
    block = to_block([Scan("house", 1.0, (Reading("house/o2", oxygen_emf_volts=0.7),))], INDEX)

    assert block.fault[0, 2] == Status.ABSENT


def test_no_scans_give_an_empty_block() -> None:
    """Nothing in, nothing out, widths kept."""
    assert to_block([], INDEX).emf_volts.shape == (0, 3)
