"""The stand-in host reports what the service would."""

import numpy as np
from msgspec.structs import replace

from monitor.model import Arrival, Scan
from monitor.wire.sequence import Sequencer
from simulator.line.stand_in_host import StandInHost

FIRST = Scan("shed-1", 1_764_000_000.0, (), boot="a", seq=0, oldest=0)


def _scan(seq: int, boot: str = "a", oldest: int | None = 0) -> Scan:
    return replace(FIRST, time=FIRST.time + seq, seq=seq, boot=boot, oldest=oldest)


def test_before_the_first_scan_it_reports_none() -> None:
    """As `alive - 0` does; nor after one that leaves the first number open."""
    host = StandInHost()
    assert host.committed() == (None, 0)
    host.take(_scan(3))

    assert host.committed() == (None, 0)


def test_it_reports_up_to_the_first_gap() -> None:
    """Out of order and twice; what the node can no longer send is passed over."""
    host = StandInHost()
    for seq in (0, 1, 3, 3, 5):
        host.take(_scan(seq))
    assert host.committed() == ("a", 1)
    host.take(_scan(2))
    assert host.committed() == ("a", 3)
    host.take(_scan(9, oldest=8))

    assert host.committed() == ("a", 7)


def test_a_new_boot_counts_from_its_own_first() -> None:
    """A straggler of the old boot does not bring that back."""
    host = StandInHost()
    host.take(_scan(7, oldest=7))
    host.take(_scan(0, "b"))
    host.take(_scan(8, oldest=8))

    assert host.committed() == ("b", 0)


def test_it_agrees_with_the_service() -> None:
    """A thousand scans of a keeping node, jumbled, some lost: the number that the service's own order would report."""
    rng = np.random.default_rng(3)
    order = np.argsort(np.arange(1_000) + rng.random(1_000) * 30.0)
    host, service = StandInHost(), Sequencer()
    for place, seq in enumerate(order.tolist()):
        if rng.random() < 0.02:
            continue
        scan = _scan(seq, oldest=max(0, seq - 40))
        host.take(scan)
        service.take(Arrival(scan, FIRST.time + 40.0 + place))
        assert host.committed() == service.contiguous("shed-1")
