"""What the crew taps: once, when the kiln is closed up."""

import pytest

from monitor.model import EntryKind
from simulator.log import log_of
from simulator.spec.kiln_file import kiln_names, load_kiln


@pytest.mark.parametrize("name", kiln_names())
def test_closing_up_is_told_once_hands_are_free(name: str) -> None:
    """Two minutes after the stage that nobody stokes in begins."""
    spec = load_kiln(name)
    (told,) = log_of(spec, 1_764_000_000)
    last = next(stage for stage in spec.stages if stage.is_closed)

    assert told.what is EntryKind.CLOSED_UP
    assert told.time == 1_764_000_000 + 3600.0 * last.begin_h
    assert told.clock == told.time + 120.0
