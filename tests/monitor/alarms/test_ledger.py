"""What is written into the ledger: signs that hold, end, or cannot be known; reduction wanted or not."""

import pytest

from monitor.alarms.circumstance import Phase
from monitor.alarms.ledger import Ledger
from monitor.alarms.sign import Sign
from monitor.alarms.table import Condition
from monitor.model import Finding, FindingKind, FindingState
from tests.monitor.alarms.kiln import NOW, TABLE

HOT = Sign(Condition.TIMBER, "roof", present=True, text="hot", sensor="roof")
COOL = Sign(Condition.TIMBER, "roof", present=False)
UNKNOWN = Sign(Condition.TIMBER, "roof", present=None)


def ledger(*signs: Sign, names_reduction: bool = True) -> Ledger:
    """Return a ledger that was told `signs`, one a second."""
    kept = Ledger(TABLE, names_reduction=names_reduction)
    for i, sign in enumerate(signs):
        kept.take_signs([sign], NOW + i)
    return kept


def test_a_sign_opens_an_entry_at_its_first_moment() -> None:
    """Told again it stays one, with its first begin."""
    (entry,) = ledger(HOT, HOT).entries.values()

    assert (entry.key, entry.open[""].begun, entry.open[""].text) == ("timber:roof", NOW, "hot")


def test_a_sign_that_is_over_closes_it() -> None:
    """And says that it was judged."""
    kept = ledger(HOT, COOL)

    assert [(bool(e.open), e.blind) for e in kept.entries.values()] == [(False, False)]
    assert not kept.was_open(Condition.TIMBER, "roof")


def test_a_sign_that_cannot_be_known_holds_what_was() -> None:
    """No data neither begins nor ends anything."""
    assert [(bool(e.open), e.blind) for e in ledger(HOT, UNKNOWN).entries.values()] == [(True, True)]
    assert ledger(UNKNOWN).entries == {}


def test_what_is_no_longer_watched_is_over() -> None:
    """A limit that was taken out of the site file leaves no alarm behind."""
    kept = ledger(HOT)
    kept.take_signs([], NOW + 9.0)

    assert [bool(e.open) for e in kept.entries.values()] == [False]


def reduction(state: str, sensor: str | None = "lambda") -> Finding:
    """Return a finding of reduction, measured where a probe showed it."""
    return Finding(NOW, FindingKind.REDUCTION, FindingState(state), sensor, NOW, None, None, "words")


@pytest.mark.parametrize(("phases", "lost"), [(frozenset({Phase.REDUCTION}), True), (frozenset(), False)])
def test_reduction_that_ends_is_a_loss_only_where_it_is_wanted(phases: frozenset[Phase], lost: bool) -> None:
    """Begin and end are told of by a probe."""
    kept = ledger()
    kept.take_finding(reduction("begin"), NOW, phases)
    assert kept.was_open(Condition.REDUCTION_UNWANTED, None)
    kept.take_finding(reduction("end"), NOW + 1.0, phases)

    assert kept.was_open(Condition.REDUCTION_LOST, None) is lost
    kept.reduction_is_over()
    assert not kept.was_open(Condition.REDUCTION_LOST, None)


def test_reduction_alarms_nobody_where_it_is_inferred_or_nothing_was_agreed() -> None:
    """A hint, or a site that did not say where it wants reduction."""
    kept, unsaid = ledger(), ledger(names_reduction=False)
    kept.take_finding(reduction("begin", None), NOW, frozenset())
    unsaid.take_finding(reduction("begin"), NOW, frozenset())

    assert kept.entries == unsaid.entries == {}
