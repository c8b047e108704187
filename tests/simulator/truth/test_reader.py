"""A truth file reads back as typed records."""

from pathlib import Path

import numpy as np
import pytest

from monitor.model import FindingKind
from simulator.truth.lines import ConeLine, HeaderLine, Line, MinuteLine, SpanLine, StokeLine, write_line
from simulator.truth.reader import TruthFileError, read_truth
from simulator.truth.stokes import Door

HEADER = HeaderLine(
    kiln="Made-up kiln", scenario="steady", seed=1, lit=100.0, begin=100.0, end=220.0,
    plan=None, guide="middle", stages=(), zones=(), sensors=(),
)  # fmt: skip
STOKE = StokeLine(time=110.0, door=Door.FRONT, zone="firebox", wet_kg=1.5, charges=1)
STALL = SpanLine(kind=FindingKind.STALL, begin=100.0, end=200.0)
FALL = SpanLine(kind=FindingKind.FALL, begin=120.0, end=200.0, zones=("front",))
CONE = ConeLine(zone="front", cone="10", bends=None, down=None, heat_work=0.1, bend_deg=0.1)


def _minute(time: float, ratio: float | None) -> MinuteLine:
    return MinuteLine(
        time=time, gas_c=[1.0, 2.0], ware_c=[3.0, 4.0], junction_c=[5.0], excess_air=[ratio, 2.0],
        air_kg_s=[0.1, 0.2], demand_kg_s=[0.1, 0.1], embers_kg=7.0, door=0.0, ports=[0.0, 1.0],
    )  # fmt: skip


def _file(folder: Path, lines: list[Line]) -> Path:
    path = folder / "x.truth.jsonl"
    path.write_bytes(b"".join(write_line(line) for line in lines))
    return path


def test_every_line_comes_back_in_its_place(tmp_path: Path) -> None:
    """Events as records, minutes as columns, null as NaN."""
    truth = read_truth(_file(tmp_path, [HEADER, STALL, STOKE, FALL, CONE, _minute(130.0, 1.5), _minute(190.0, None)]))

    assert (truth.header, truth.stokes, truth.spans, truth.cones) == (HEADER, (STOKE,), (STALL, FALL), (CONE,))
    assert truth.of(FindingKind.FALL) == (FALL,)
    np.testing.assert_array_equal(truth.minutes.time, [130.0, 190.0])
    np.testing.assert_array_equal(truth.minutes.excess_air, [[1.5, 2.0], [np.nan, 2.0]])
    np.testing.assert_array_equal(truth.minutes.embers_kg, [7.0, 7.0])


@pytest.mark.parametrize("lines", [[], [STOKE]])
def test_file_without_a_header_is_refused(tmp_path: Path, lines: list[Line]) -> None:
    """It is not a truth file."""
    with pytest.raises(TruthFileError, match="no header"):
        read_truth(_file(tmp_path, lines))


def test_broken_line_is_refused_with_its_number(tmp_path: Path) -> None:
    """The third."""
    path = _file(tmp_path, [HEADER, STOKE])
    path.write_bytes(path.read_bytes() + b'{"kind":"stoke"}\n')

    with pytest.raises(TruthFileError, match=r"x.truth.jsonl: line 3: "):
        read_truth(path)
