"""The lines of a truth file are JSON that reads back as it was."""

import json

import msgspec
import pytest

from monitor.model import FindingKind, SensorFault
from simulator.truth.lines import (
    ConeLine,
    HeaderLine,
    Line,
    MinuteLine,
    SensorWords,
    SpanLine,
    StageWords,
    StokeLine,
    ZoneWords,
    parse_line,
    write_line,
)
from simulator.truth.stokes import Door

HEADER = HeaderLine(
    kiln="Made-up kiln", scenario="steady", seed=1, lit=100.0, begin=100.0, end=220.0,
    plan=((0.0, 20.0), (2.0, 120.0)), guide="middle", stages=(StageWords("climb", 0.0, 8.0),),
    zones=(ZoneWords("front", "front"),), sensors=(SensorWords("middle", "K", "front"),),
)  # fmt: skip
LINES: list[Line] = [
    HEADER,
    StokeLine(time=110.0, door=Door.SIDE, zone="front", wet_kg=1.5, charges=2),
    SpanLine(kind=FindingKind.STALL, begin=100.0, end=200.0),
    SpanLine(kind=FindingKind.RHYTHM, begin=100.0, end=200.0, ratio=1.3),
    SpanLine(
        kind=FindingKind.SENSOR, begin=1.0, end=2.0, sensor="middle", fault=SensorFault.DRIFT, cause="green-rot"
    ),
    ConeLine(zone="front", cone="010", bends=150.0, down=None, heat_work=0.7, bend_deg=30.9),
    MinuteLine(
        time=130.0, gas_c=[1.0], ware_c=[2.0], junction_c=[3.0], excess_air=[None], air_kg_s=[0.0], demand_kg_s=[0.0],
        embers_kg=1.0, door=0.5, ports=[0.0],
    ),
]  # fmt: skip


@pytest.mark.parametrize("line", LINES, ids=lambda line: str(line.kind))
def test_line_reads_back_as_it_was_written(line: Line) -> None:
    """Every kind."""
    assert parse_line(write_line(line)) == line


@pytest.mark.parametrize("line", LINES, ids=lambda line: str(line.kind))
def test_line_is_plain_json_with_its_kind(line: Line) -> None:
    """Anybody's reader can take it."""
    text = write_line(line)

    assert json.loads(text)["kind"] == line.kind
    assert text.endswith(b"}\n")


def test_span_says_only_what_belongs_to_its_kind() -> None:
    """A stall has a begin and an end and no more."""
    assert write_line(LINES[2]) == b'{"kind":"stall","begin":100.0,"end":200.0}\n'


def test_header_says_what_the_words_and_the_units_are() -> None:
    """Every kind of finding has a sentence."""
    header = json.loads(write_line(HEADER))

    assert set(FindingKind) <= set(header["words"])
    assert header["units"]["temperature"] == "Cel"


def test_numbers_that_are_none_become_null() -> None:
    """JSON knows neither infinity nor NaN."""
    row = msgspec.structs.replace(LINES[-1], excess_air=[float("inf"), float("nan"), 1.5])

    assert json.loads(write_line(row))["excess_air"] == [None, None, 1.5]


@pytest.mark.parametrize("text", [b'{"kind":"weather"}', b"[]", b'{"kind":"stoke","time":1}'])
def test_what_is_no_line_is_refused(text: bytes) -> None:
    """An unknown kind and a line that lacks something."""
    with pytest.raises(msgspec.ValidationError):
        parse_line(text)
