"""Mistakes in tables are told with key and what is allowed."""

from dataclasses import dataclass
from typing import Annotated

import pytest
from msgspec import Meta

from simulator.spec.strict_parts import read_table, read_tables, unknown_keys


@dataclass(frozen=True)
class Plank:
    """A part within a part."""

    length_m: Annotated[float, Meta(gt=0.0)]


@dataclass(frozen=True)
class Bench:
    """A part."""

    name: str
    plank: tuple[Plank, ...]
    spare: Plank | None = None


GOOD = {"name": "low", "plank": [{"length_m": 2}]}


def test_good_table_is_read() -> None:
    """Whole numbers count as numbers."""
    problems: list[str] = []

    assert read_table(Bench, GOOD, "bench", problems) == Bench("low", (Plank(2.0),))
    assert problems == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"nmae": "x"}, "bench.nmae: unknown; allowed are name, plank, spare"),
        ({"plank": [{"length_m": 1.0, "width": 2}]}, "bench.plank[0].width: unknown; allowed are length_m"),
        ({"spare": {"length_m": 1.0, "width": 2}}, "bench.spare.width: unknown; allowed are length_m"),
        ({"plank": [{"length_m": 0.0}]}, "bench.plank[0].length_m: Expected `float` > 0.0"),
        ({"name": 7}, "bench.name: Expected `str`, got `int`"),
        ({"plank": [{}]}, "bench.plank[0]: Object missing required field `length_m`"),
    ],
)
def test_mistake_is_told_with_its_key(change: dict[str, object], words: str) -> None:
    """And with what is allowed there."""
    problems: list[str] = []
    read_table(Bench, GOOD | change, "bench", problems)

    assert problems == [words]


def test_table_that_is_none_at_all_is_told() -> None:
    """A number where a table should stand."""
    problems: list[str] = []

    assert read_table(Bench, 5, "bench", problems) is None
    assert problems == ["bench: Expected `object`, got `int`"]


def test_every_broken_table_of_an_array_is_told() -> None:
    """The good ones are read; one written as a single table is refused."""
    problems: list[str] = []

    assert read_tables(Plank, [{"length_m": 1}, {"length_m": -1}, {}], "plank", problems) == (Plank(1.0),)
    assert [p.partition(":")[0] for p in problems] == ["plank[1].length_m", "plank[2]"]
    assert read_tables(Plank, {"length_m": 1}, "plank", problems) == ()
    assert problems[-1] == "plank: write it as [[plank]], one table each"


def test_plain_kinds_have_no_unknown_keys() -> None:
    """There is nothing to look into."""
    assert unknown_keys(float, 3.0, "x") == []
