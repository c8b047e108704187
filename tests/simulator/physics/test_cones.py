"""Witness cones bend by heat work, late, and are down where the worked cases of the heat-work model say."""

import csv
from pathlib import Path

import numpy as np
import pytest

from simulator.physics.cones import ConePack, bend_deg, pack_of, watch_cones

ZONES = ["front", "back"]
ROWS = [
    row
    for row in csv.DictReader(
        line
        for line in (Path(__file__).parents[2] / "golden" / "cone_tests.csv").read_text().splitlines()
        if not line.startswith("#")
    )
    if row["case"] == "ramp" and row["history"].startswith("60 ")
]
"""Worked cases computed from the table of cones.csv (Fairchild and Peters 1926, from memory)."""


def _climb(top_c: float, soak_h: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Return hours and degC (m, 2): 60 degC/h from 300 to `top_c` in the front, then a soak; the back stays cold."""
    hour = np.arange(0.0, (top_c - 300.0) / 60.0 + soak_h, 1.0 / 60.0)
    front_c = np.minimum(300.0 + 60.0 * hour, top_c)
    return hour, np.stack([front_c, np.full(len(hour), 20.0)], axis=1)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"cone {row['cone']}")
def test_cone_is_down_where_the_worked_case_says(row: dict[str, str]) -> None:
    """A climb of 60 degC/h; tolerance 0.2 degC as the table of cases has it."""
    hour, ware_c = _climb(1450.0)
    (cone,) = watch_cones([ConePack("front", (row["cone"],))], ZONES, hour, ware_c)

    assert cone.down_h is not None
    assert 300.0 + 60.0 * cone.down_h == pytest.approx(float(row["value"]), abs=0.2)
    assert cone.bend_deg == 90.0


def test_cone_leans_late() -> None:
    """Half of the heat work gives an eighth of the lean; nothing leans further than down."""
    np.testing.assert_allclose(bend_deg(np.array([0.0, 0.5, 1.0, 3.0])), [0.0, 11.25, 90.0, 90.0])


def test_cone_takes_a_quarter_to_half_an_hour_to_go_down() -> None:
    """Common practice, no source; cone 10 at 60 degC/h."""
    hour, ware_c = _climb(1300.0)
    (cone,) = watch_cones([ConePack("front", ("10",))], ZONES, hour, ware_c)

    assert cone.bends_h is not None
    assert cone.down_h is not None
    assert 15.0 <= 60.0 * (cone.down_h - cone.bends_h) <= 30.0


def test_soak_brings_down_what_the_climb_left_standing() -> None:
    """20 degC short of the end point cone 10 stands; 40 min there bring it down (e-fold 18.8 degC: 36 min)."""
    pack = [ConePack("front", ("10",))]
    (climbed,) = watch_cones(pack, ZONES, *_climb(1264.0))
    (soaked,) = watch_cones(pack, ZONES, *_climb(1264.0, soak_h=40.0 / 60.0))

    assert climbed.down_h is None
    assert climbed.bends_h is None
    assert soaked.down_h == pytest.approx((1264.0 - 300.0) / 60.0 + 0.6, abs=0.05)


def test_cold_zone_leaves_its_cones_upright() -> None:
    """Each pack goes by its own zone."""
    packs = [ConePack("front", ("8", "9")), ConePack("back", ("8",))]
    cones = watch_cones(packs, ZONES, *_climb(1300.0))

    assert [(c.zone, c.number, c.down_h is not None) for c in cones] == [
        ("front", "8", True),
        ("front", "9", True),
        ("back", "8", False),
    ]
    assert cones[2].bend_deg == 0.0


def test_pack_is_read_from_its_table() -> None:
    """Zone and numbers of a `[[cones]]` table."""
    assert pack_of({"zone": "back", "numbers": ["06", "6"]}, ZONES) == ConePack("back", ("06", "6"))


@pytest.mark.parametrize(
    ("raw", "says"),
    [({"zone": "attic", "numbers": ["6"]}, "attic"), ({"zone": "back", "numbers": ["16"]}, "16")],
)
def test_unknown_zone_and_cone_are_told(raw: dict[str, object], says: str) -> None:
    """The mistake is named."""
    with pytest.raises(ValueError, match=says):
        pack_of(raw, ZONES)
