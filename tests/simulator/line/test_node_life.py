"""What a node makes of its scans."""

from collections.abc import Sequence
from itertools import pairwise

import pytest

from monitor.model import Scan
from simulator.line.line_spells import LineSpells
from simulator.line.node_life import DAY_S, TICKS_WRAP_S, UP_BEFORE_S, NodeLife
from simulator.line.silences import RESET_TAKES_S
from simulator.script.line_faults import LineFault
from simulator.script.spells import Spell

LIT = 1_764_000_000.0
MINUTE_H = 1.0 / 60.0


def _written(spells: Sequence[Spell], seconds: int = 300, *, reported: bool = True) -> list[list[Scan]]:
    """Return what is written each second from one second after lighting; the host reports all at once, or nothing."""
    life = NodeLife(LineSpells(spells, LIT), LIT)
    written = []
    for number in range(seconds):
        now = float(number)
        words = written[-1][0] if reported and written and written[-1] else None
        life.memory.heard(words.boot if words else None, words.seq or 0 if words else 0, now)
        written.append(life.write(Scan("shed-1", LIT + 1.0 + number, (), boot="0badcafe", seq=number), now))
    return written


def _fresh(spells: Sequence[Spell], seconds: int = 300) -> list[Scan]:
    return [batch[0] for batch in _written(spells, seconds) if batch]


def test_a_sound_node_sends_what_the_kiln_gives() -> None:
    """With the lowest number that it can still send, which is the fresh one where all before is reported."""
    fresh = _fresh(())

    assert [s.seq for s in fresh] == list(range(300))
    assert [s.oldest for s in fresh] == list(range(300))
    assert {(s.boot, s.up_s) for s in fresh} == {("0badcafe", None)}
    assert fresh[-1].time == LIT + 300.0


def test_unreported_scans_go_out_again() -> None:
    """While the number stands still: after ten seconds, as they were."""
    written = _written((), 15, reported=False)

    assert [len(batch) for batch in written] == [1] * 10 + [9, 4, 1, 1, 1]
    assert [s.seq for s in written[10][1:]] == list(range(8))
    assert {s.oldest for s in written[11]} == {0}
    assert written[11][1].time == LIT + 9.0


def test_reset_starts_a_new_boot() -> None:
    """F30: seconds later, another word, numbers from 0, nothing kept of before."""
    fresh = _fresh([Spell(LineFault.RESET, MINUTE_H, 1.0)])
    before, after = fresh[:59], fresh[59:]

    assert {s.boot for s in before} == {"0badcafe"}
    assert len({s.boot for s in after}) == 1
    assert after[0].boot != "0badcafe"
    assert after[0].time - before[-1].time == 1.0 + RESET_TAKES_S
    assert (after[0].seq, after[0].oldest) == (0, 0)
    assert [s.seq for s in after] == list(range(len(after)))


def test_every_reset_has_a_boot_of_its_own() -> None:
    """Two resets, three boots."""
    spells = [Spell(LineFault.RESET, MINUTE_H, 1.0), Spell(LineFault.RESET, 2 * MINUTE_H, 1.0)]

    assert len({s.boot for s in _fresh(spells)}) == 3


def test_a_hanging_node_says_nothing_until_its_watchdog_starts_it_anew() -> None:
    """F31: no lines for the spell, then a new boot."""
    fresh = _fresh([Spell(LineFault.HANG, MINUTE_H, 2 * MINUTE_H)])
    gap = [(a, b) for a, b in pairwise(fresh) if b.time - a.time > 1.0]

    assert [(a.time - LIT, b.time - LIT) for a, b in gap] == [(59.0, 180.0)]
    assert gap[0][0].boot != gap[0][1].boot
    assert gap[0][1].seq == 0


def test_downtime_before_the_run_is_none() -> None:
    """A run that begins after a reset begins with its first boot."""
    life = NodeLife(LineSpells([Spell(LineFault.RESET, -1.0, 1.0)], LIT), LIT)

    assert life.write(Scan("shed-1", LIT + 1.0, (), boot="a", seq=0), 0.0)[0].boot == "a"


def test_a_forgetful_node_names_no_oldest_and_sends_nothing_again() -> None:
    """As a sender without a memory; afterwards it keeps again, from then on."""
    written = _written([Spell(LineFault.FORGETS, 0.0, MINUTE_H)], 80, reported=False)

    assert all(len(batch) == 1 and batch[0].oldest is None for batch in written[:59])
    assert written[59][0].oldest == 59
    assert [s.seq for s in written[69][1:]] == list(range(59, 67))


@pytest.mark.parametrize("days", [-9000.0, 400.0])
def test_a_wrong_clock_is_off_by_its_days(days: float) -> None:
    """F45: only in the spell, and to the second."""
    fresh = _fresh([Spell(LineFault.WRONG_CLOCK, MINUTE_H, MINUTE_H, size=days)], 180)
    off = [s.time - (LIT + 1.0 + n) for n, s in enumerate(fresh)]

    assert off == [0.0] * 59 + [days * DAY_S] * 60 + [0.0] * 61


def test_a_clockless_node_tells_how_long_ago_and_up() -> None:
    """F45: 0 for a scan sent at once, its age below 0 for one sent again (RFC 8428, section 4.5.3)."""
    written = _written([Spell(LineFault.CLOCKLESS, 0.0, 1.0)], 12, reported=False)

    assert {batch[0].time for batch in written} == {0.0}
    assert [batch[0].up_s for batch in written] == [UP_BEFORE_S + 1.0 + n for n in range(12)]
    assert [s.time for s in written[10][1:]] == [-10.0 + n for n in range(8)]
    assert [s.up_s for s in written[10][1:]] == [UP_BEFORE_S + 1.0 + n for n in range(8)]


def test_up_begins_anew_with_a_boot() -> None:
    """F30: a clockless node's first word after a reset says so."""
    spells = [Spell(LineFault.CLOCKLESS, 0.0, 1.0), Spell(LineFault.RESET, MINUTE_H, 1.0)]
    first_after = next(s for s in _fresh(spells) if s.boot != "0badcafe")

    assert first_after.up_s == 0.0


@pytest.mark.parametrize("falls_back", [False, True])
def test_up_passes_the_wrap_of_the_ticks(falls_back: bool) -> None:
    """F46: 2**30 ms halfway through the spell; a sound node counts on, a plain counter starts again from 0."""
    fresh = _fresh([Spell(LineFault.TICKS_WRAP, MINUTE_H, 2 * MINUTE_H, size=float(falls_back))], 240)
    up = [s.up_s for s in fresh if s.up_s is not None]

    assert len(up) == 120
    assert up[59] == pytest.approx(TICKS_WRAP_S - 1.0)
    assert up[60] == pytest.approx(0.0 if falls_back else TICKS_WRAP_S)
    assert {s.time for s in fresh[59:179]} == {0.0}
