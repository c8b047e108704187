"""Door switches."""

import numpy as np

from simulator.probe.contacts import door_share, is_open
from simulator.spec.kiln_file import load_kiln
from simulator.spec.sensor_spec import ContactSpec

SPEC = load_kiln("demo")
ENDS_S = np.array([5.0, 10.0, 15.0, 20.0])


def test_door_is_open_in_the_first_part_of_a_step() -> None:
    """Open all of the second step and two fifths of the third: true from 6 to 12 s."""
    at_s = np.arange(1.0, 21.0)
    found = is_open(at_s, ENDS_S, np.array([0.0, 1.0, 0.4, 0.0]), 5.0)

    assert at_s[found].tolist() == list(range(6, 13))


def test_no_scan_no_answer() -> None:
    """A block may hold no scan."""
    assert len(is_open(np.zeros(0), ENDS_S, np.zeros(4), 5.0)) == 0


def test_contact_watches_its_own_door() -> None:
    """The stoke door, or the side port of a zone."""
    door, ports = np.array([0.5]), np.arange(float(len(SPEC.zones)))[None, :]
    middle = SPEC.zone_index("middle")

    assert door_share(SPEC, ContactSpec("d1", "front"), door, ports).tolist() == [0.5]
    assert door_share(SPEC, ContactSpec("d2", "side", "middle"), door, ports).tolist() == [float(middle)]
