"""The short cut gives what the general way gives, or leaves the pack to it."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.wire.fields import PackError
from monitor.wire.layout import MAX_LAYOUTS, MAX_RECORDS, Layout, scan_by_layout
from monitor.wire.resolve import resolve_pack

GOLDEN = Path(__file__).parents[2] / "golden" / "packs"
ACCEPTED: list[dict[str, Any]] = json.loads((GOLDEN / "accepted.json").read_text("utf-8"))
REFUSED: list[dict[str, Any]] = json.loads((GOLDEN / "refused.json").read_text("utf-8"))

values: st.SearchStrategy[dict[str, Any]] = st.sampled_from(
    [
        {"v": 0.5},
        {"v": 0},
        {"v": 7},
        {"v": -3},
        {"v": 1e9},
        {"vs": "open"},
        {"vs": "a b"},
        {"vb": True},
        {},
        {"v": True},
    ]
)
FIELDS = [f"t{i}/{field}" for i in (1, 2) for field in ("emf", "cj", "fault", "temp", "o2emf", "contact")]
names = st.sampled_from([*FIELDS, "boot", "seq", "oldest", "up", "tick", "odd", "host/seq"])
units = st.sampled_from([{}, {}, {"u": "V"}, {"u": "Cel"}, {"u": "count"}, {"u": "s"}])
extras = st.sampled_from([{}, {}, {}, {}, {"t": -1}, {"bu": "Cel"}, {"x_": 1}, {"bt": 1764000000}])
records = st.builds(
    lambda name, *parts: {"n": name, **{k: v for p in parts for k, v in p.items()}}, names, values, units, extras
)
firsts = st.sampled_from(
    [
        {"bn": "shed-1/", "bt": 1764000000},
        {"bn": "shed-1/", "bt": -5},
        {"bn": "host/", "bt": 1764000000},
        {"bn": ""},
        {},
    ]
)


def test_plain_golden_packs_take_the_short_cut() -> None:
    """The first golden pack, the plainest, is read by its layout, at first sight and again."""
    payload = json.dumps(ACCEPTED[0]["pack"]).encode()
    layouts: dict[tuple[str, ...], Layout] = {}

    assert (scan_by_layout(payload, layouts),) == resolve_pack(payload)
    assert (scan_by_layout(payload, layouts),) == resolve_pack(payload)
    assert len(layouts) == 1


@pytest.mark.parametrize("inputs", [1, 2, 12])
def test_pairs_of_emf_and_cold_junction_are_read(inputs: int) -> None:
    """Any number of plain thermocouple inputs is read as the general way reads it."""
    fields = [
        record
        for i in range(inputs)
        for record in ({"n": f"t{i}/emf", "u": "V", "v": i / 1000}, {"n": f"t{i}/cj", "u": "Cel", "v": 20 + i})
    ]
    payload = json.dumps([{"bn": "shed-1/", "bt": 1764000000, **fields[0]}, *fields[1:]]).encode()

    assert (scan_by_layout(payload, {}),) == resolve_pack(payload)


@given(firsts, st.lists(records, min_size=1, max_size=8), st.data())
@settings(max_examples=500)
def test_short_cut_agrees_with_the_general_way(
    first: dict[str, Any], pack: list[dict[str, Any]], data: st.DataObject
) -> None:
    """Whatever the pack, and whatever was seen before: the same scan, or left to the general way."""
    payload = json.dumps([{**first, **pack[0]}, *pack[1:]]).encode()
    layouts: dict[tuple[str, ...], Layout] = {}
    for record in pack:
        record.update(data.draw(values))
    scan_by_layout(json.dumps([{**first, **pack[0]}, *pack[1:]]).encode(), layouts)
    scan = scan_by_layout(payload, layouts)

    assert scan is None or (scan,) == resolve_pack(payload)


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["about"])
def test_short_cut_never_takes_a_refused_pack(case: dict[str, Any]) -> None:
    """Every refused golden pack is left to the general way, also where its names were seen before."""
    layouts: dict[tuple[str, ...], Layout] = {}
    for good in ACCEPTED:
        scan_by_layout(json.dumps(good["pack"]).encode(), layouts)
    for name, word in (("t1/fault", {"vs": "open"}), ("door/contact", {"vb": True}), ("boot", {"vs": "a"})):
        scan_by_layout(
            json.dumps([{"bn": "shed-1/", "bt": 1, "n": name, **word}, {"n": "seq", "v": 1}]).encode(), layouts
        )

    assert scan_by_layout(case["text"].encode(), layouts) is None


@pytest.mark.parametrize(
    "last",
    [{"n": "t1/fault", "v": 1}, {"n": "t1/fault", "vs": "bent"}, {"n": "t1/contact", "v": 1}, {"n": "boot", "v": 1}],
    ids=lambda record: f"{record}",
)
def test_missing_word_is_left_to_the_general_way(last: dict[str, Any]) -> None:
    """A word field without its word is not taken, and the general way says why."""
    payload = json.dumps([{"bn": "shed-1/", "bt": 1764000000, "n": "seq", "v": 1}, last]).encode()

    assert scan_by_layout(payload, {}) is None
    with pytest.raises(PackError):
        resolve_pack(payload)


def test_pack_with_too_many_records_is_left() -> None:
    """A pack with more records than any layout is kept for is left to the general way."""
    payload = json.dumps([{"bn": "s/", "n": f"t{i}/emf", "v": 0} for i in range(MAX_RECORDS + 1)]).encode()

    assert scan_by_layout(payload, {}) is None


def test_layouts_are_bounded() -> None:
    """However many layouts come, no more than the limit are kept."""
    layouts: dict[tuple[str, ...], Layout] = {}
    for i in range(MAX_LAYOUTS + 1):
        scan_by_layout(json.dumps([{"bn": f"n{i}/", "n": "seq", "v": 1}]).encode(), layouts)

    assert len(layouts) == 1
