"""Entries as host lines of a recording: there and back, and whatever is none refused with its reason."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model import Entry, EntryKind
from monitor.wire.entry_line import NOTE_PATTERN, NOTED, checked_entry, read_entry, write_entry
from monitor.wire.fields import PackError
from monitor.wire.pack import parse_line, parse_pack

CLOCK = 1_764_000_000.0
STOKED = Entry("3f09a1c2", CLOCK + 12.25, CLOCK + 2.5, EntryKind.STOKED, "side", "Ana")

times = st.floats(CLOCK, CLOCK + 4e5)
entries = st.builds(
    lambda name, both, what, door, who, note: Entry(
        name,
        max(both),
        min(both),
        what,
        door if what is EntryKind.STOKED else None,
        who,
        note if what in NOTED else None,
    ),
    st.from_regex(r"[A-Za-z0-9\-]{1,40}", fullmatch=True),
    st.tuples(times, times),
    st.sampled_from(EntryKind),
    st.sampled_from(["front", "side"]),
    st.none() | st.text(max_size=80),
    st.from_regex(NOTE_PATTERN, fullmatch=True),
)


@given(entries)
def test_an_entry_reads_back_as_it_was_written(entry: Entry) -> None:
    """To the bit, whatever a name is made of."""
    line = write_entry(entry)

    assert read_entry(line) == entry
    assert parse_line(line) == entry


def test_a_line_is_a_pack_of_senml() -> None:
    """RFC 8428: names under the node, words in `vs`, numbers with their unit."""
    assert json.loads(write_entry(STOKED)) == [
        {"bn": "host/", "bt": CLOCK + 12.25, "n": "entry", "vs": "stoked"},
        {"n": "entry/id", "vs": "3f09a1c2"},
        {"n": "entry/time", "u": "s", "v": CLOCK + 2.5},
        {"n": "entry/door", "vs": "side"},
        {"n": "entry/who", "vs": "Ana"},
    ]


def test_a_node_tells_no_entries() -> None:
    """What a person did comes over the service's own interface; the node's name is the host's own."""
    with pytest.raises(PackError, match="reserved"):
        parse_pack(write_entry(STOKED))


def test_without_a_time_it_was_just_done() -> None:
    """A line written by hand need not say it twice."""
    line = b'[{"bn":"host/","bt":1764000000,"n":"entry","vs":"closed-up"},{"n":"entry/id","vs":"a"}]'

    assert read_entry(line) == Entry("a", CLOCK, CLOCK, EntryKind.CLOSED_UP)


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('"stoked"', '"danced"', "unknown entry 'danced', one of stoked, closed-up, fired-on"),
        ('"side"', '"roof"', "front or side"),
        ('"stoked"', '"closed-up"', "only a stoke has one"),
        ('"3f09a1c2"', '"3f 09"', "an entry's id"),
        ("1764000002.5", "1764000099.0", "told at"),
        ("1764000012.25", "12.25", "told at"),
        ('"Ana"', '"' + "A" * 81 + '"', "81 characters, at most 80"),
    ],
)
def test_what_cannot_be_meant_is_refused(old: str, new: str, reason: str) -> None:
    """Each part by itself."""
    line = write_entry(STOKED).decode()
    assert old in line

    with pytest.raises(PackError, match=reason):
        parse_line(line.replace(old, new, 1).encode())


@pytest.mark.parametrize("line", [b"[]", b"{", b'[{"bn":"host/","bt":1764000000,"n":"tick","u":"count","v":1}]'])
def test_other_lines_are_left_to_others(line: bytes) -> None:
    """None, and no error: whoever reads packs says what is wrong."""
    assert read_entry(line) is None


def test_a_whole_entry_is_returned_as_it_is() -> None:
    """For those who make one elsewhere."""
    assert checked_entry(STOKED) is STOKED
