"""Spells of the line in kiln time."""

from simulator.line.line_spells import LineSpells, is_within
from simulator.script.line_faults import LineFault
from simulator.script.mishaps import Mishap
from simulator.script.spells import Spell

LIT = 1_764_000_000
SPELLS = LineSpells(
    (
        Spell(Mishap.DOZE, 0.0, 9.0),
        Spell(LineFault.LOSS, 1.0, 1.0, size=0.25),
        Spell(LineFault.LOSS, 1.5, 1.0, size=0.5),
    ),
    LIT,
)


def test_only_the_line_s_own_are_kept() -> None:
    """A doze is the crew's."""
    assert [s.what for s in SPELLS.all] == [LineFault.LOSS, LineFault.LOSS]


def test_sizes_add_up_where_spells_overlap() -> None:
    """From the begin on, the end not included; nothing where no spell is."""
    hours = (0.5, 1.0, 1.6, 2.0, 2.5)

    assert [SPELLS.size(LineFault.LOSS, LIT + h * 3600) for h in hours] == [0.0, 0.25, 0.75, 0.5, 0.0]
    assert [SPELLS.is_on(LineFault.LOSS, LIT + h * 3600) for h in hours] == [False, True, True, True, False]
    assert not SPELLS.is_on(LineFault.DELAY, LIT + 3600.0)
    assert SPELLS.size(LineFault.DELAY, LIT + 3600.0) == 0.0


def test_spells_are_told_with_their_size() -> None:
    """As epoch seconds, in the order given; none where there is none."""
    assert SPELLS.of(LineFault.LOSS) == [(LIT + 3600.0, LIT + 7200.0, 0.25), (LIT + 5400.0, LIT + 9000.0, 0.5)]
    assert SPELLS.of(LineFault.DELAY) == []


def test_spans_become_windows_of_epoch_seconds() -> None:
    """In order; a window holds its begin and not its end."""
    windows = SPELLS.windows([(2.0, 3.0), (1.0, 1.5)])

    assert windows == [(LIT + 3600.0, LIT + 5400.0), (LIT + 7200.0, LIT + 10800.0)]
    assert [is_within(windows, LIT + s) for s in (3599.9, 3600.0, 5400.0)] == [False, True, False]
