"""What sounds, second by second, from what the service says and from its silence."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.sounder.pattern import Pattern
from monitor.sounder.vigil import SILENT_S, Vigil, Word


def word(beats: int, sounding: int | None = None, **more: Any) -> Word:
    """Return an answer of the service."""
    usual: dict[str, Any] = {"louder": False, "silenced": False, "stuck": None, "armed": True}
    return Word(beats, sounding, **(usual | more))


@pytest.mark.parametrize(
    ("priority", "pattern"), [(1, Pattern.FIRST), (2, Pattern.SECOND), (3, Pattern.THIRD), (None, None)]
)
def test_the_service_says_what_is_heard(priority: int | None, pattern: Pattern | None) -> None:
    """Each priority has its pattern."""
    vigil = Vigil(0.0, armed=False)
    vigil.hear(word(1, priority), 1.0)

    assert vigil.wanted(1.0) == (None if pattern is None else (pattern, False))


@pytest.mark.parametrize("way", ["no answer", "the same beat", "stuck"])
def test_a_service_that_is_of_no_use_is_itself_an_alarm(way: str) -> None:
    """Ten seconds after the last good answer, louder at once; a good answer ends it."""
    vigil = Vigil(0.0, armed=False)
    vigil.hear(word(7), 100.0)
    for second in range(1, 40):
        now_s = 100.0 + second
        if way == "no answer":
            vigil.miss("refused")
        else:
            vigil.hear(word(7 if way == "the same beat" else 7 + second, stuck="x" if way == "stuck" else None), now_s)
        assert vigil.wanted(now_s) == ((Pattern.FIRST, True) if second >= SILENT_S else None)
        assert vigil.trouble
    vigil.hear(word(99), 140.0)
    assert (vigil.wanted(140.0), vigil.trouble) == (None, None)


def test_without_a_firing_a_dead_service_wakes_nobody() -> None:
    """Nor does one that was never heard; one that was left in a firing does."""
    at_rest, armed = Vigil(0.0, armed=False), Vigil(0.0, armed=True)
    at_rest.hear(word(1, armed=False), 0.0)
    for vigil in (at_rest, armed):
        vigil.miss("refused")

    assert at_rest.wanted(1000.0) is None
    assert (armed.wanted(SILENT_S - 0.1), armed.wanted(SILENT_S)) == (None, (Pattern.FIRST, True))


@pytest.mark.parametrize("armed", [True, False])
def test_one_answer_that_is_missed_silences_no_alarm(armed: bool) -> None:
    """What was said last counts until the service counts as dead; then its death is told, or nothing can be."""
    vigil = Vigil(0.0, armed=False)
    vigil.hear(word(1, 2, armed=armed), 0.0)
    vigil.miss("refused")

    assert [vigil.wanted(at) for at in (2.0, SILENT_S - 0.1)] == [(Pattern.SECOND, False)] * 2
    assert vigil.wanted(SILENT_S) == ((Pattern.FIRST, True) if armed else None)


def test_a_silence_asked_for_at_a_panel_holds_while_the_service_says_so() -> None:
    """Also beside a service that judges nothing; once it is dead nobody can say that it was asked for."""
    vigil = Vigil(0.0, armed=True)
    vigil.hear(word(1, 1, silenced=True), 0.0)
    assert vigil.wanted(1.0) is None
    for second in range(1, 30):
        vigil.hear(word(1 + second, 1, silenced=True, stuck="x"), float(second))
        assert vigil.wanted(float(second)) is None
    assert vigil.wanted(29.0 + SILENT_S) == (Pattern.FIRST, True)


def test_a_hush_lasts_a_minute() -> None:
    """Somebody at the host makes it quiet; then it sounds again."""
    vigil = Vigil(0.0, armed=True)
    vigil.hush(20.0)

    assert (vigil.wanted(79.9), vigil.wanted(80.0)) == (None, (Pattern.FIRST, True))


@given(st.lists(st.tuples(st.floats(0.0, 5.0), st.sampled_from(["good", "same", "miss", "stuck"])), max_size=60))
def test_an_armed_vigil_is_never_silent_for_long_beside_a_dead_service(steps: list[tuple[float, str]]) -> None:
    """Whatever comes in whatever order: 10 s after the last answer with progress it sounds, and not before."""
    now_s, well_s, beats = 0.0, 0.0, 1
    vigil = Vigil(0.0, armed=True)
    vigil.hear(word(beats), 0.0)
    for wait_s, what in steps:
        now_s += wait_s
        if what == "good":
            beats += 1
            well_s = now_s
            vigil.hear(word(beats), now_s)
        elif what == "miss":
            vigil.miss("refused")
        else:
            beats += what == "stuck"
            vigil.hear(word(beats, stuck="x" if what == "stuck" else None), now_s)
        assert (vigil.wanted(now_s) is not None) is (now_s - well_s >= SILENT_S)
