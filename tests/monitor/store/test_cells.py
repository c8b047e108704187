"""The readings of one scan as bytes."""

import pytest

from monitor.model import InputFault, Reading
from monitor.store.cells import cells_of, decode_cells, encode_cells, readings_of

READINGS = (
    Reading("shed-1/t1", emf_volts=0.0332751, cold_junction_c=24.81),
    Reading("shed-1/t2", cold_junction_c=24.79, fault=InputFault.OPEN),
    Reading("shed-1/t3", temperature_c=812.5),
    Reading("shed-1/o2", oxygen_emf_volts=0.0612, temperature_c=1100.0),
    Reading("shed-1/door", contact=False),
    Reading("shed-1/bell", contact=True),
    Reading("shed-1/silent"),
    Reading("other/t1", emf_volts=-0.0, fault=InputFault.COLD_JUNCTION),
)


def test_every_kind_of_reading_comes_back() -> None:
    """Readings are the same after the way through bytes, in their order."""
    assert readings_of(decode_cells(encode_cells(cells_of(READINGS)))) == READINGS


@pytest.mark.parametrize("fault", list(InputFault))
def test_every_fault_has_a_number(fault: InputFault) -> None:
    """Each fault that a node can tell is kept."""
    assert readings_of(cells_of([Reading("a/b", fault=fault)])) == (Reading("a/b", fault=fault),)


def test_a_kind_that_nobody_sent_takes_no_room() -> None:
    """Twelve thermocouples take under 350 bytes."""
    readings = [Reading(f"shed-1/t{i}", emf_volts=0.0332751, cold_junction_c=24.81) for i in range(12)]

    cells = cells_of(readings)

    assert cells.temperature_c is cells.oxygen_emf_volts is cells.fault is cells.contact is None
    assert len(encode_cells(cells)) < 350


def test_a_scan_of_no_inputs_comes_back() -> None:
    """A scan may be empty."""
    assert readings_of(decode_cells(encode_cells(cells_of(())))) == ()


def test_an_input_named_twice_is_refused() -> None:
    """Keeping one of two would drop the other silently."""
    with pytest.raises(ValueError, match="named twice in one scan: a/b, a/b"):
        cells_of([Reading("a/b", emf_volts=1.0), Reading("a/b", emf_volts=2.0)])
