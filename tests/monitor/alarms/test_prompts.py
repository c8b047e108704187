"""Prompts open, are ticked by name, close, and come back."""

import pytest

from monitor.alarms.prompts import PromptBook
from monitor.model import Entry, EntryKind, Prompt
from tests.monitor.alarms.kiln import CLIMB, NOW, PROMPTS, sight


def told(what: EntryKind, note: str, at: float = NOW, who: str | None = "Ana") -> Entry:
    """Return an entry that somebody told at `at`."""
    return Entry(f"{note}{at}", at, at, what, None, who, note)


def book(at: float = NOW, **present: object) -> PromptBook:
    """Return a book that has seen one moment of a kiln in the climb."""
    prompts = PromptBook(PROMPTS)
    prompts.step(sight(at, **present))  # type: ignore[arg-type]
    return prompts


def only(prompts: PromptBook, key: str) -> Prompt:
    """Return the open prompt `key`."""
    (found,) = [p for p in prompts.open() if p.key == key]
    return found


GEAR = [point.id for point in next(row for row in PROMPTS.prompt if row.id == "stoke-gear").points]


def test_points_are_ticked_by_name_and_then_the_prompt_is_done() -> None:
    """The first to tick a point counts; with the last point it closes."""
    prompts = book()
    for i, point in enumerate(GEAR[:-1]):
        prompts.take(told(EntryKind.TICKED, f"stoke-gear/{point}", NOW + i))
    prompts.take(told(EntryKind.TICKED, f"stoke-gear/{GEAR[0]}", NOW + 50.0, "Rui"))

    ticks = [(p.ticked_by, p.ticked_at) for p in only(prompts, "stoke-gear").points]
    assert ticks == [("Ana", NOW + i) for i in range(len(GEAR) - 1)] + [(None, None)]
    prompts.take(told(EntryKind.TICKED, f"stoke-gear/{GEAR[-1]}", NOW + 60.0))
    assert prompts.open() == []


def test_what_must_be_gone_through_again_comes_back_after_its_time() -> None:
    """Four hours after it was done, with nothing ticked."""
    prompts = book()
    for point in GEAR:
        prompts.take(told(EntryKind.TICKED, f"stoke-gear/{point}"))
    again_s = 14400.0

    prompts.step(sight(NOW + again_s - 1.0, last_sign=NOW + again_s, last_stoke=NOW + again_s))
    assert prompts.open() == []
    prompts.step(sight(NOW + again_s, last_sign=NOW + again_s, last_stoke=NOW + again_s))
    assert [p.ticked_by for p in only(prompts, "stoke-gear").points] == [None] * len(GEAR)


def test_a_change_of_watch_asks_anew() -> None:
    """A handover half gone through is not carried into the next."""
    prompts = book(watch_changed=NOW - 10.0)
    assert prompts.handover_due_since() == NOW
    prompts.take(told(EntryKind.TICKED, "handover/drink"))
    assert prompts.handover_due_since() is None
    prompts.step(sight(NOW + 100.0, watch_changed=NOW + 90.0))

    assert prompts.handover_due_since() == NOW + 100.0
    assert {p.ticked_by for p in only(prompts, "handover").points} == {None}


def test_an_answer_closes_the_question_for_its_time() -> None:
    """Asked again an hour later if it still falls; any touch closes the question whether somebody is there."""
    prompts = book()
    for minutes in range(0, 65, 5):
        at = NOW + 60.0 * minutes
        now = {"last_sign": at, "last_stoke": NOW - 1.0}
        prompts.step(sight(at, celsius={**CLIMB, "middle": 700.0 - 2.0 * minutes}, **now))
    assert [answer[0] for answer in only(prompts, "phase").answers] == ["closed-up", "still-fired"]
    prompts.take(told(EntryKind.ANSWERED, "phase/still-fired", at))

    assert "phase" not in {p.key for p in prompts.open()}


def test_no_data_opens_and_closes_nothing() -> None:
    """A kiln of which nothing is known asks what it asked."""
    prompts = book()
    before = prompts.open()
    prompts.step(sight(NOW + 60.0, celsius={}))

    assert prompts.open() == before
    assert book(celsius={}).open() == []


@pytest.mark.parametrize("note", ["stoke-gear/nonsense", "nonsense/eyes", "handover/drink"])
def test_a_tick_of_nothing_is_nothing(note: str) -> None:
    """An unknown point, an unknown prompt, one that is not open."""
    prompts = book()
    before = prompts.open()
    prompts.take(told(EntryKind.TICKED, note))

    assert prompts.open() == before


def test_saved_prompts_go_on() -> None:
    """With who ticked what; damaged ones are refused."""
    prompts = book()
    prompts.take(told(EntryKind.TICKED, "stoke-gear/eyes"))
    again = PromptBook(PROMPTS)
    again.restore(prompts.save())

    assert again.open() == prompts.open()
    with pytest.raises(ValueError, match="cannot be read"):
        again.restore(b"{")
    with pytest.raises(ValueError, match="version 9"):
        again.restore(b'{"version":9}')


def test_each_change_is_counted() -> None:
    """Whoever shows them knows when to."""
    prompts = book()
    first = prompts.version
    prompts.step(sight(NOW + 1.0))
    assert prompts.version == first > 0
    prompts.take(told(EntryKind.TICKED, "stoke-gear/eyes"))
    assert prompts.version > first
