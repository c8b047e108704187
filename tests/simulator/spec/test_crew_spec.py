"""Stages, crew and watches as a kiln file holds them."""

import tomllib

import msgspec
import pytest

from simulator.spec.crew_spec import CrewSpec, StageSpec

STAGE = """
name = "high-fire"
begin_h = 20.0
start_h = 21.0
interval_min = 4.0
door_s = 5.0
excess_air = 1.2
air_below = 0.5
damper = 0.8
"""
SIDE = """
[side]
from_c = 1050.0
every_min = 5.0
ports = ["front", "back"]
pieces = [2, 3]
piece_kg = 0.4
wood_mm = 20.0
open_s = 8.0
"""
CREW = """
wood_kg_h = [[15, 1], [1200, 30]]
kg_h_per_climb = 0.4
moisture = 0.15
short_mm = 50.0
long_mm = 40.0
long_from_c = 871.0
[[watches]]
name = "Ada and Lin"
from_hour = 7.0
rhythm_scatter = 0.1
armful_scatter = 0.1
armful = 1.0
dawn_late = 1.0
rakes_at = 0.7
in_two = 0.0
looks_per_h = 0.5
favours_lagging = true
"""


def _stage(text: str) -> StageSpec:
    return msgspec.convert(tomllib.loads(text), type=StageSpec)


def test_stage_may_have_side_stoking() -> None:
    """A table in the stage's table: two and a half pieces of 0.4 kg every five minutes are 12 kg an hour."""
    assert _stage(STAGE).side is None
    side = _stage(STAGE + SIDE).side

    assert side is not None
    assert side.ports == ("front", "back")
    assert side.pieces == (2, 3)
    assert side.mean_kg_h == pytest.approx(12.0)


def test_stage_without_stokes_is_closed() -> None:
    """No interval: closed up."""
    assert not _stage(STAGE).is_closed
    assert _stage(STAGE.replace("interval_min = 4.0", "interval_min = 0.0")).is_closed


@pytest.mark.parametrize(
    ("find", "put"),
    [("damper = 0.8", "damper = 1.8"), ("pieces = [2, 3]", "pieces = [0, 3]"), ('["front", "back"]', "[]")],
)
def test_what_cannot_be_is_refused(find: str, put: str) -> None:
    """Shares beyond one, no pieces, no ports."""
    with pytest.raises(msgspec.ValidationError):
        _stage((STAGE + SIDE).replace(find, put))


def test_crew_has_its_curve_and_its_watches() -> None:
    """Whole numbers become floats."""
    crew = msgspec.convert(tomllib.loads(CREW), type=CrewSpec)

    assert crew.wood_kg_h == ((15.0, 1.0), (1200.0, 30.0))
    assert [w.name for w in crew.watches] == ["Ada and Lin"]


@pytest.mark.parametrize(
    ("find", "put"), [("moisture = 0.15", "moisture = 1.0"), ("from_hour = 7.0", "from_hour = 24.0"), ("[15, 1], ", "")]
)
def test_crew_that_cannot_be_is_refused(find: str, put: str) -> None:
    """All water, an hour beyond the day, a curve of one point."""
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(tomllib.loads(CREW.replace(find, put)), type=CrewSpec)
