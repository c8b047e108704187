"""Lines of a practice: both ways without loss, and what is none is refused."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from monitor.wire.practice import (
    VERSION,
    Answer,
    Order,
    Practice,
    PracticeLineError,
    read_from_kiln,
    read_order,
    write_practice_line,
)

GOLDEN = Path(__file__).parents[2] / "golden" / "messages"


def golden(name: str) -> dict[str, Any]:
    """Return the practice in the golden message `name`."""
    practice: dict[str, Any] = json.loads((GOLDEN / f"{name}.json").read_text())["practice"]
    return practice


@pytest.mark.parametrize(
    ("order", "told"),
    [
        (Order(1, "take-over"), {"number": 1, "what": "take-over"}),
        (Order(2, "stoke", armful="big"), {"number": 2, "what": "stoke", "armful": "big"}),
        (Order(3, "side-stoke", zone="middle"), {"number": 3, "what": "side-stoke", "zone": "middle"}),
        (Order(4, "damper", to=0.4), {"number": 4, "what": "damper", "to": 0.4}),
    ],
)
def test_an_order_says_only_what_it_needs(order: Order, told: dict[str, Any]) -> None:
    """One object a line; it comes back as it went."""
    line = write_practice_line(order)

    assert line.endswith(b"\n")
    assert json.loads(line) == {"kind": "order", **told}
    assert read_order(line) == order


@pytest.mark.parametrize("name", ["snapshot", "frame"])
def test_the_present_comes_back_as_it_was(name: str) -> None:
    """Every field of the golden examples is known; nothing is lost or added."""
    practice = read_from_kiln(json.dumps(golden(name)).encode())

    assert isinstance(practice, Practice)
    assert json.loads(write_practice_line(practice)) == golden(name)


def test_an_answer_is_told_from_the_present() -> None:
    """Both come over one line, each with its kind."""
    answer = Answer(7, done=False, why="full")

    assert read_from_kiln(write_practice_line(answer)) == answer


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"", "truncated"),
        (b"\xff\xfe", "malformed"),
        (b"[]", "Expected `object`"),
        (b'{"kind":"order","number":1,"what":"explode"}', "Invalid enum value 'explode'"),
        (b'{"kind":"order","number":1,"what":"damper","to":"wide"}', "Expected `float"),
        (b'{"kind":"order","number":1,"what":"look","version":2}', "version 2 is not known here, only 1"),
        (write_practice_line(Answer(1, done=True)), "Invalid value 'answer'"),
    ],
)
def test_what_is_no_order_is_refused_with_the_reason(line: bytes, reason: str) -> None:
    """Broken JSON, an unknown deed, another version, a line of the other side."""
    with pytest.raises(PracticeLineError, match=reason):
        read_order(line)


def test_a_kiln_of_another_version_is_not_guessed_at() -> None:
    """Its words could mean something else."""
    later = msgspec.structs.replace(Answer(1, done=True), version=VERSION + 1)

    with pytest.raises(PracticeLineError, match="only 1"):
        read_from_kiln(write_practice_line(later))
