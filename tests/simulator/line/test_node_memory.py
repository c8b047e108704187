"""The node's memory: the very rule of the firmware."""

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np

from monitor.model import Scan
from simulator.line.node_memory import HOST_IS_HERE_S, SENT_AGAIN_AT_ONCE, STANDS_STILL_S, NodeMemory

FIRMWARE = Path(__file__).resolve().parents[3] / "hardware" / "node"


def _scan(seq: int, boot: str = "a") -> Scan:
    return Scan("shed-1", 1_764_000_000.0 + seq, (), boot=boot, seq=seq)


def _firmware(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"firmware_{name}", FIRMWARE / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _filled(scans: int, capacity: int = 100) -> NodeMemory:
    memory = NodeMemory(capacity)
    for seq in range(scans):
        memory.keep(_scan(seq))
    assert memory.due(0.0) == []
    return memory


def test_it_sends_again_exactly_when_and_what_the_firmware_does() -> None:
    """Ten hours of a host that falls silent, lags, jumps and speaks of other boots: the same numbers go out again.

    Source outside the simulator: `hardware/node/ring.py`, whose numbers begin at 1 and whose clock counts milliseconds.
    """
    ring_file = _firmware("ring")
    ring = ring_file.Ring(400, 1)
    resend = ring_file.Resend(ring, 0)
    memory = NodeMemory(400)
    rng = np.random.default_rng(7)
    listens_until = 0
    again = 0
    for now in range(36_000):
        ring.keep(now * 1000, [(0, 0, 0)])
        memory.keep(_scan(now))
        if now >= listens_until and rng.random() < 0.002:
            listens_until = now + int(rng.integers(5, 900))
        if now >= listens_until and now % 3 == 0:
            seq = int(max(0, now - rng.integers(0, 60)))
            is_ours = bool(rng.random() < 0.9)
            resend.heard(is_ours, seq + 1, now * 1000)
            memory.heard("a" if is_ours else "b", seq, float(now))
        expected = [number - 1 for number in resend.due(now * 1000, SENT_AGAIN_AT_ONCE)]
        assert [scan.seq for scan in memory.due(float(now))] == expected
        assert memory.oldest in (ring.oldest() - 1, None)
        again += len(expected)

    assert again > 1_000


def test_nothing_goes_out_again_while_the_number_moves() -> None:
    """A host that commits each second for a minute: no scan twice, and only what it has not is kept."""
    memory = _filled(1)
    for now in range(1, 60):
        memory.keep(_scan(now))
        memory.heard("a", now - 1, float(now))
        assert memory.due(float(now)) == []

    assert memory.oldest == 59


def test_a_number_that_stands_still_is_sent_on_from() -> None:
    """After ten seconds from the first unreported scan, eight at once, up to what was there when it began."""
    memory = _filled(21)
    memory.heard("a", 3, 0.5)
    for now in (5.0, 10.4):
        memory.heard("a", 3, now)
        assert memory.due(now) == []
    memory.heard("a", 3, 0.5 + STANDS_STILL_S)
    sent = [memory.due(0.5 + STANDS_STILL_S + turn) for turn in range(4)]

    assert [[scan.seq for scan in batch] for batch in sent] == [
        list(range(4, 12)),
        list(range(12, 20)),
        [20],
        [],
    ]


def test_nobody_is_sent_to_who_does_not_listen() -> None:
    """Without a word of the host for fifteen seconds it is not there; before its first word neither."""
    memory = _filled(20)
    assert memory.due(100.0) == []
    memory.heard(None, 0, 200.0)

    assert memory.due(200.0 + HOST_IS_HERE_S) == []
    memory.heard(None, 0, 230.0)
    assert len(memory.due(230.0)) == SENT_AGAIN_AT_ONCE


def test_a_full_memory_forgets_its_oldest() -> None:
    """What it names as its oldest is the first that it can still send."""
    memory = _filled(25, capacity=10)
    memory.heard("a", 2, 1.0)
    memory.heard("a", 2, 20.0)

    assert memory.oldest == 15
    assert [scan.seq for scan in memory.due(20.0)] == list(range(15, 23))


def test_a_start_anew_empties_it() -> None:
    """Nothing of the boot before goes out; the host's word on that boot changes nothing."""
    memory = _filled(20)
    memory.heard("a", 3, 0.0)
    memory.forget()
    memory.keep(_scan(0, "b"))
    memory.heard("a", 19, 1.0)

    assert memory.oldest == 0
    assert memory.due(1.0) == []
    memory.heard("b", 0, 2.0)
    assert memory.oldest is None
