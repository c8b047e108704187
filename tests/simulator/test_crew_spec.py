"""Stages, crew and watches as a kiln file holds them."""

import tomllib

import pytest

from simulator.crew_spec import crew_of, stage_of

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


def test_stage_may_have_side_stoking() -> None:
    """A table in the stage's table."""
    assert stage_of(tomllib.loads(STAGE)).side is None
    side = stage_of(tomllib.loads(STAGE + SIDE)).side

    assert side is not None
    assert side.ports == ("front", "back")
    assert side.pieces == (2, 3)
    assert side.mean_kg_h == pytest.approx(12.0)


def test_stage_without_stokes_is_closed() -> None:
    """No interval: closed up."""
    raw = tomllib.loads(STAGE)

    assert not stage_of(raw).is_closed
    assert stage_of(raw | {"interval_min": 0.0}).is_closed


def test_unknown_key_is_an_error() -> None:
    """A slip of the pen is not passed over."""
    with pytest.raises(TypeError, match="dampers"):
        stage_of(tomllib.loads(STAGE) | {"dampers": 1.0})


def test_crew_has_its_curve_and_its_watches() -> None:
    """One table a watch, in the file's order."""
    watch = {
        "name": "Ada and Lin", "from_hour": 7.0, "rhythm_scatter": 0.1, "armful_scatter": 0.1, "armful": 1.0,
        "dawn_late": 1.0, "rakes_at": 0.7, "in_two": 0.0, "looks_per_h": 0.5, "favours_lagging": True,
    }  # fmt: skip
    raw = {
        "wood_kg_h": [[15, 1], [1200, 30]], "kg_h_per_climb": 0.4, "moisture": 0.15, "short_mm": 50.0,
        "long_mm": 40.0, "long_from_c": 871.0, "watch": [watch, watch | {"name": "Kit", "from_hour": 19.0}],
    }  # fmt: skip
    crew = crew_of(raw)

    assert crew.wood_kg_h == ((15.0, 1.0), (1200.0, 30.0))
    assert [w.name for w in crew.watches] == ["Ada and Lin", "Kit"]
    assert "watch" in raw
