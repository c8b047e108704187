"""Tests of the messages between service and panel, on the examples that the panel's own tests read too."""

import json
from pathlib import Path

import msgspec
import pytest

from monitor.publish.messages import (
    AlarmLine,
    EntryLine,
    FindingLine,
    Frame,
    Heartbeat,
    Hello,
    Help,
    Links,
    PromptAnswer,
    PromptLine,
    PromptPoint,
    Report,
    Snapshot,
    Value,
    decode_from_panel,
    decode_to_panel,
    encode,
)
from monitor.wire.practice import Practice
from monitor.wire.practice import Report as PracticeReport

GOLDEN = Path(__file__).parents[2] / "golden" / "messages"
TO_PANEL = ["snapshot", "snapshot_bare", "frame", "frame_bare", "heartbeat"]
FROM_PANEL = ["hello", "hello_first", "report", "report_unknown"]


def example(name: str) -> str:
    """Read one golden message."""
    return (GOLDEN / f"{name}.json").read_text()


@pytest.mark.parametrize("name", TO_PANEL)
def test_a_message_to_the_panel_comes_back_as_it_was(name: str) -> None:
    """Every field of an example is known: decoding and encoding it loses and adds nothing."""
    message = decode_to_panel(example(name))

    assert json.loads(encode(message)) == json.loads(example(name))


@pytest.mark.parametrize("name", FROM_PANEL)
def test_a_message_from_the_panel_comes_back_as_it_was(name: str) -> None:
    """What a panel says is read without loss."""
    message = decode_from_panel(example(name))

    assert json.loads(encode(message)) == json.loads(example(name))


def test_every_golden_message_is_tested() -> None:
    """No example lies in the folder unread."""
    names = {path.stem for path in GOLDEN.glob("*.json")}

    assert names == {*TO_PANEL, *FROM_PANEL}


@pytest.mark.parametrize(
    ("name", "struct"),
    [("snapshot", Snapshot), ("frame", Frame), ("heartbeat", Heartbeat), ("hello", Hello), ("report", Report)],
)
def test_the_full_examples_name_every_field(name: str, struct: type[msgspec.Struct]) -> None:
    """A field added here without an example would reach the panel unproven."""
    found = set(json.loads(example(name)))

    assert found == {"kind", *struct.__struct_fields__}


def test_the_full_snapshot_names_every_field_of_its_parts() -> None:
    """The parts of a message are as complete as the message."""
    snapshot = json.loads(example("snapshot"))
    frame = json.loads(example("frame"))

    assert set(snapshot["values"][0]) == set(Value.__struct_fields__)
    assert set(snapshot["alarms"][0]) == set(AlarmLine.__struct_fields__)
    assert set(snapshot["links"]) == set(Links.__struct_fields__)
    assert set(snapshot["entries"][0]) == set(EntryLine.__struct_fields__)
    assert set(frame["findings"][0]) == set(FindingLine.__struct_fields__)
    assert set(snapshot["help"]) == set(Help.__struct_fields__)
    assert set(snapshot["prompts"][0]) == set(PromptLine.__struct_fields__)
    assert set(snapshot["prompts"][1]["points"][0]) == set(PromptPoint.__struct_fields__)
    assert set(snapshot["prompts"][0]["answers"][0]) == set(PromptAnswer.__struct_fields__)
    assert set(snapshot["practice"]) == {"kind", *Practice.__struct_fields__}
    assert set(snapshot["practice"]["report"]) == set(PracticeReport.__struct_fields__)


def test_a_frame_leaves_out_what_did_not_change() -> None:
    """A second without news costs a few bytes."""
    frame = Frame(epoch="one", seq=1, clock=1.0)

    assert json.loads(encode(frame)) == {"kind": "frame", "epoch": "one", "seq": 1, "clock": 1.0}


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        ('{"kind":"report","sound":"loud","visible":true}', "Invalid enum value 'loud'"),
        ('{"kind":"snapshot"}', "Invalid value 'snapshot'"),
        ("[]", "Expected `object`"),
    ],
)
def test_a_wrong_word_from_a_panel_is_refused_with_the_reason(words: str, reason: str) -> None:
    """A page that speaks nonsense is told what was wrong."""
    with pytest.raises(msgspec.ValidationError, match=reason):
        decode_from_panel(words)
