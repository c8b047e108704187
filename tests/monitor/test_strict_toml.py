"""Files that people write: each mistake named with file, key and what is allowed, all of them at once."""

from typing import Annotated

import pytest
from pydantic import Field, field_validator

from monitor.problems import ProblemsError
from monitor.strict_toml import StrictPart, check_part, read_toml


class Leg(StrictPart):
    """A part within a list within a part."""

    hours: float
    name: Annotated[str, Field(pattern="^[a-z]+$")] = "leg"


class Course(StrictPart):
    """A part that may be missing."""

    legs: tuple[Leg, ...] = ()

    @field_validator("legs")
    @classmethod
    def _short(cls, legs: tuple[Leg, ...]) -> tuple[Leg, ...]:
        if len(legs) > 2:
            raise ValueError("two legs are enough")
        return legs


class Whole(StrictPart):
    """The whole file."""

    course: Course | None = None


HINTS = {"name": "use lower-case letters"}


def problems(text: str, across: list[str] | None = None) -> list[str]:
    """Return what is wrong with `text`."""
    with pytest.raises(ProblemsError) as caught:
        check_part(Whole, read_toml(text, "f.toml"), "f.toml", hints=HINTS, across=across or [])
    return caught.value.problems


def test_right_file_becomes_its_parts() -> None:
    """Nothing wrong, nothing said."""
    raw = read_toml("[course]\nlegs = [{hours = 1.5}]", "f.toml")

    whole = check_part(Whole, raw, "f.toml", hints=HINTS, across=[])

    assert whole == Whole(course=Course(legs=(Leg(hours=1.5),)))


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("x = 1", "f.toml: x: unknown key; allowed here: course (found 1)"),
        ("[course]\ny = 1", "f.toml: course.y: unknown key; allowed here: legs"),
        ("[course]\nlegs = [{hours = 1, z = 2}]", "f.toml: course.legs[1].z: unknown key; allowed here: hours, name"),
        ("[course]\nlegs = [{}]", "f.toml: course.legs[1].hours: missing; add it"),
        (
            '[course]\nlegs = [{hours = 1, name = "A"}]',
            "f.toml: course.legs[1].name: use lower-case letters (f",
        ),
        (
            "[course]\nlegs = [{hours = inf}]",
            "f.toml: course.legs[1].hours: Input should be a finite number",
        ),
        ("[course]\nlegs = [{hours=1}, {hours=2}, {hours=3}]", "f.toml: course.legs: two legs are enough"),
        ("[course", "f.toml: not readable as TOML: "),
    ],
)
def test_each_mistake_is_one_line(text: str, line: str) -> None:
    """Where it is and what to write, in one line."""
    (told,) = problems(text)

    assert told.startswith(line.removesuffix(" (found 1)"))


def test_all_mistakes_come_at_once_those_between_tables_last() -> None:
    """A person mends the file once."""
    told = problems("x = 1\n[course]\nlegs = [{}]", ["f.toml: two tables disagree"])

    assert len(told) == 3
    assert told[-1] == "f.toml: two tables disagree"
    assert problems("", ["f.toml: two tables disagree"]) == ["f.toml: two tables disagree"]


def test_error_reads_as_its_lines() -> None:
    """Whoever prints the error sees every line."""
    assert str(ProblemsError(["a", "b"])) == "a\nb"
