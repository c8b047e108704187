"""What a line does to what is sent."""

from collections import Counter
from collections.abc import Sequence

import pytest

from monitor.model import Scan
from simulator.line.faulty_line import FaultyLine, Sending, Turn
from simulator.line.line_noise import Noise
from simulator.line.line_spells import LineSpells
from simulator.line.silences import holes
from simulator.script.line_faults import LineFault
from simulator.script.spells import Spell

LIT = 1_764_000_000.0


def _line(spells: Sequence[Spell], *, seed: int = 1, begins_at: float = LIT) -> FaultyLine:
    return FaultyLine(LineSpells(spells, LIT), node="shed-1", seed=seed, begins_at=begins_at)


def _scan(seq: int) -> Scan:
    return Scan("shed-1", LIT + seq, (), boot="a", seq=seq)


def _out(spells: Sequence[Spell], seconds: int = 600, *, seed: int = 1, again_every: int = 0) -> list[Sending]:
    """Return what comes out when one fresh scan a second goes in, and the same once more every `again_every`."""
    line = _line(spells, seed=seed)
    out = []
    for second in range(1, seconds + 1):
        line.carry(_scan(second), LIT + second, is_again=False)
        if again_every and second % again_every == 0:
            line.carry(_scan(second), LIT + second, is_again=True)
        out += line.due(LIT + second)
    return out


def _numbers(sendings: Sequence[Sending]) -> list[int]:
    return [s.what.seq for s in sendings if isinstance(s.what, Scan) and s.what.seq is not None]


def test_a_sound_line_brings_all_at_once() -> None:
    """At the very time of sending, in order."""
    out = _out(())

    assert _numbers(out) == list(range(1, 601))
    assert [s.at - LIT for s in out] == list(range(1, 601))


@pytest.mark.parametrize("fault", [LineFault.OUTAGE, LineFault.REPLUG])
def test_an_outage_swallows_all_and_is_told_at_both_ends(fault: LineFault) -> None:
    """F35, F40: nothing in between; who holds the line's end learns of it."""
    out = _out([Spell(fault, 1 / 60, 1 / 60)])

    assert _numbers(out) == [*range(1, 60), *range(120, 601)]
    assert [(s.at - LIT, s.what) for s in out if isinstance(s.what, Turn)] == [
        (60.0, Turn(fault, is_on=True)),
        (120.0, Turn(fault, is_on=False)),
    ]


def test_the_line_is_out_only_then() -> None:
    """What the host says is not heard either."""
    line = _line([Spell(LineFault.OUTAGE, 1.0, 1.0), Spell(LineFault.HOLES, 0.0, 9.0, size=60.0)])

    assert [line.is_out(LIT + h * 3600) for h in (0.9, 1.0, 1.9, 2.0)] == [False, True, True, False]


def test_loss_takes_its_share_and_no_more() -> None:
    """F34: one in a hundred of 20,000, within four standard errors of a binomial count."""
    lost = 20_000 - len(_numbers(_out([Spell(LineFault.LOSS, 0.0, 9.0, size=0.01)], 20_000)))

    assert abs(lost - 200) < 4 * (20_000 * 0.01 * 0.99) ** 0.5


def test_what_is_sent_again_does_not_move_what_is_lost() -> None:
    """The host's words may differ from run to run, the losses of fresh scans do not."""
    spells = [Spell(LineFault.LOSS, 0.0, 9.0, size=0.2), Spell(LineFault.SHUFFLE, 0.0, 9.0, size=20.0)]
    plain = Counter(_numbers(_out(spells)))
    more = Counter(_numbers(_out(spells, again_every=7)))

    assert {n for n in more if n % 7} == {n for n in plain if n % 7}


def test_holes_take_all_for_their_time() -> None:
    """F34: thirty seconds in each ten minutes, where the truth says."""
    spells = [Spell(LineFault.HOLES, 0.0, 1.0, size=30.0)]
    kept = set(_numbers(_out(spells, 3600)))
    lost = [n for n in range(1, 3601) if n not in kept]
    spans = [(LIT + a * 3600, LIT + b * 3600) for a, b in holes(spells, seed=1)]

    assert lost == [n for n in range(1, 3601) if any(a <= LIT + n < b for a, b in spans)]
    assert len(lost) == 180


def test_twice_is_twice_in_a_row() -> None:
    """F32: each pack again right behind."""
    assert _numbers(_out([Spell(LineFault.TWICE, 0.0, 1.0)], 5)) == [1, 1, 2, 2, 3, 3, 4, 4, 5, 5]


def test_replay_brings_the_newest_once_more() -> None:
    """F32: as many as its size, at its begin, before what is fresh then."""
    out = _numbers(_out([Spell(LineFault.REPLAY, 300 / 3600, 1.0, size=100.0)]))

    assert len(out) == 700
    assert out[298:402] == [299, 300, *range(201, 301), 301, 302]


def test_shuffle_jumbles_within_its_size() -> None:
    """F33: nothing lost, nothing later than a minute, order gone; what comes out is in order of arrival."""
    out = _out([Spell(LineFault.SHUFFLE, 0.0, 540 / 3600, size=60.0)], 700)
    late = [s.at - s.what.time for s in out if isinstance(s.what, Scan)]

    assert sorted(_numbers(out)) == list(range(1, 701))
    assert _numbers(out) != sorted(_numbers(out))
    assert 55.0 < max(late) <= 60.0
    assert min(late) >= 0.0
    assert [s.at for s in out] == sorted(s.at for s in out)


def test_delay_holds_all_up_by_its_hours() -> None:
    """F33: three hours to the second."""
    out = _out([Spell(LineFault.DELAY, 0.0, 60 / 3600, size=3.0)], 4 * 3600)
    late = [s.at - s.what.time for s in out if isinstance(s.what, Scan) and s.what.time < LIT + 60]

    assert late == [10_800.0] * 59


def test_what_would_come_out_of_a_dead_line_is_gone() -> None:
    """Held up into an outage."""
    spells = [Spell(LineFault.DELAY, 0.0, 60 / 3600, size=300 / 3600), Spell(LineFault.OUTAGE, 290 / 3600, 90 / 3600)]

    assert set(range(1, 60)).isdisjoint(_numbers(_out(spells)))


def test_noise_comes_in_between_and_not_through_an_outage() -> None:
    """F38, F39: at its times."""
    spells = [Spell(LineFault.ABSURD, 0.0, 0.1), Spell(LineFault.OUTAGE, 100 / 3600, 100 / 3600)]
    found = [s.at - LIT for s in _out(spells) if isinstance(s.what, Noise)]

    assert found == [0.0, 60.0, 240.0, 300.0]


def test_what_was_before_the_run_is_left_out() -> None:
    """What is on when the run begins is on from its begin; noise and replays of the past are not made up for."""
    spells = [
        Spell(LineFault.TWIN, 0.0, 2.0),
        Spell(LineFault.RETAINS, 0.0, 0.5),
        Spell(LineFault.ABSURD, 0.0, 2.0, size=1 / 60),
        Spell(LineFault.REPLAY, 0.5, 0.1),
    ]
    out = _line(spells, begins_at=LIT + 3600).due(LIT + 9 * 3600)

    assert [(s.at - LIT, type(s.what)) for s in out] == [(3600.0, Turn), (3600.0, Noise), (7200.0, Turn)]
