"""The shorter cut gives what the general way gives, or leaves the pack to it."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model import Scan
from monitor.wire.fields import PackError
from monitor.wire.layout import scan_by_layout
from monitor.wire.resolve import resolve_pack
from monitor.wire.template import MAX_NODES, MAX_TEMPLATES, Templates

GOLDEN = Path(__file__).parents[2] / "golden" / "packs"
REFUSED: list[dict[str, Any]] = json.loads((GOLDEN / "refused.json").read_text("utf-8"))

INPUTS = [
    {"n": "t1/emf", "u": "V", "v": 0.01},
    {"n": "t1/cj", "u": "Cel", "v": 20.5},
    {"n": "t2/emf", "u": "V", "v": 0.02},
    {"n": "t2/fault", "vs": "open"},
    {"n": "x1/temp", "u": "Cel", "v": 900},
    {"n": "x1/o2emf", "u": "V", "v": 0.05},
    {"n": "d1/contact", "vb": True},
    {"n": "t3/odd", "u": "lx", "v": 3},
]
OWN = [{"n": "boot", "vs": "a7"}, {"n": "seq", "u": "count", "v": 7}, {"n": "oldest", "v": 5}, {"n": "up", "v": 70.5}]
numbers = st.one_of(
    st.floats(-2.0, 2.0), st.integers(-1, 400), st.sampled_from([1e9, 2.0**53, -0.0, 1e-7, 1764000000.25])
)


def pack_of(records: list[dict[str, Any]], time: float = 1764000000) -> bytes:
    """Return `records` as a pack of shed-1 at `time`."""
    first = {"bn": "shed-1/", "bt": time, **records[0]}
    return json.dumps([first, *records[1:]], separators=(",", ":")).encode()


def learnt_from(*payloads: bytes) -> Templates:
    """Return templates that have seen each of `payloads` twice."""
    templates = Templates()
    for payload in payloads:
        scan = scan_by_layout(payload, {})
        assert scan is not None
        templates.learn(payload, scan)
        templates.learn(payload, scan)
    return templates


def generally(payload: bytes) -> Scan | None:
    """Return the one scan that the general way makes of a pack, None where it refuses it."""
    try:
        scans = resolve_pack(payload)
    except PackError:
        return None
    assert isinstance(scans, tuple)
    return scans[0]


@given(st.lists(st.sampled_from(INPUTS), unique_by=lambda r: r["n"]), st.lists(numbers, min_size=13, max_size=13))
@settings(max_examples=300)
def test_other_numbers_are_read_as_the_general_way_reads_them(inputs: list[dict[str, Any]], other: list[float]) -> None:
    """Whatever the numbers of a pack of known text: the same scan, or nothing where the general way refuses it."""
    records = [*inputs, *OWN]
    changed = [{**r, "v": v} if "v" in r else r for r, v in zip(records, other, strict=False)]
    payload = pack_of(changed, other[-1])
    templates = learnt_from(pack_of(records))

    scan = templates.scan(payload)
    assert scan == generally(payload)
    assert repr(scan) == repr(scan_by_layout(payload, {}))  # to the sign of nought


def test_spaces_after_colons_are_taken() -> None:
    """A writer that puts a space after each colon is read by its template as well."""
    payload = json.dumps([{"bn": "shed-1/", "bt": 1764000000, **INPUTS[0]}, *OWN]).encode()
    later = payload.replace(b": 7}", b": 8}")

    assert learnt_from(payload).scan(later) == generally(later)


@pytest.mark.parametrize(
    "other",
    [
        pack_of([*INPUTS[:2], *OWN]).replace(b"t1/cj", b"t2/cj"),
        pack_of([*INPUTS[:2], *OWN]).replace(b"0.01", b"01"),
        pack_of([*INPUTS[:2], *OWN]).replace(b"0.01", b"+1"),
        pack_of([*INPUTS[:2], *OWN]).replace(b'"v":7}', b'"v":7.5}'),
        pack_of([*INPUTS[:2], *OWN]).replace(b'"v":7}', b'"v":-7}'),
        pack_of([*INPUTS[:2], *OWN], 1e13),
        pack_of([*INPUTS[:2], *OWN])[:-1],
        pack_of([*INPUTS[:2], *OWN]) + b" ",
        pack_of([*INPUTS[:2], *OWN]).replace(b"a7", b"b7"),
        b"",
    ],
    ids=["name", "leading nought", "plus", "fraction", "negative", "year 10000", "cut", "longer", "boot", "empty"],
)
def test_whatever_else_differs_is_left_to_the_general_way(other: bytes) -> None:
    """A pack with another text, or a number that may not be, is not taken."""
    assert learnt_from(pack_of([*INPUTS[:2], *OWN])).scan(other) is None


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["about"])
def test_shorter_cut_never_takes_a_refused_pack(case: dict[str, Any]) -> None:
    """Every refused golden pack is left to the general way."""
    assert learnt_from(pack_of([*INPUTS, *OWN])).scan(case["text"].encode()) is None


def test_text_is_learnt_when_it_comes_twice_in_a_row() -> None:
    """One look at a text makes no template, so that a node that says something else each time costs little."""
    one, other = pack_of([INPUTS[0], *OWN]), pack_of([INPUTS[1], *OWN])
    templates = Templates()
    for payload in (one, other, one, other):
        scan = scan_by_layout(payload, {})
        assert scan is not None
        templates.learn(payload, scan)

    assert templates.scan(one) is None
    assert templates.scan(other) is None


def test_each_node_has_its_own_template() -> None:
    """Nodes that take turns are each read by their own."""
    mine = pack_of([INPUTS[0], *OWN])
    theirs = mine.replace(b"shed-1", b"yard-1")
    templates = learnt_from(mine, theirs)

    assert templates.scan(mine) == generally(mine)
    assert templates.scan(theirs) == generally(theirs)


@pytest.mark.parametrize(
    "pack",
    [
        '[{"bn":"shed-1/","n":"t1/emf","v":1},{"n":"seq","v":1}]',
        '[{"bn":"shed-1/","v":1,"bt":1764000000,"n":"seq"}]',
        '[{"bn":"shed-1/","bt":1764000000,"n":"seq","v":2,"v":1}]',
        '[{"bn":"shed-1/","bt":1764000000,"n":"seq","v":1},{"n":"boot","vs":"a\\u0062"}]',
        '[{"bn":"shed-1/","bt": 1764000000,"n":"seq","v":  1}]',
    ],
    ids=["no time", "time last", "twice", "escaped", "more spaces"],
)
def test_text_whose_numbers_cannot_be_placed_gets_no_template(pack: str) -> None:
    """What is not plain enough is read by others each time."""
    assert learnt_from(pack.encode()).scan(pack.encode()) is None


def test_scan_without_a_reading_is_read() -> None:
    """A node may say no more than its number."""
    payload = pack_of([{"n": "seq", "v": 1}])

    assert learnt_from(payload).scan(payload) == Scan("shed-1", 1764000000.0, (), seq=1)


def test_templates_are_bounded() -> None:
    """However many texts come from however many nodes, what is kept stays small."""
    packs = [pack_of([{"n": f"t{i}/emf", "v": 0}]) for i in range(MAX_TEMPLATES + 1)]
    nodes = [packs[0].replace(b"shed-1", f"n{i}".encode()) for i in range(MAX_NODES + 1)]
    templates = learnt_from(*packs, *nodes)

    assert templates.scan(nodes[-1]) == generally(nodes[-1])
    assert templates.scan(packs[-1]) is None
    assert len(templates) <= MAX_TEMPLATES
