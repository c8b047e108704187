"""What is read off a good firing, on the quick kiln."""

from functools import cache

import numpy as np
import pytest

from simulator.crew.deeds import DeedKind
from simulator.show.observed import Observed, observe
from simulator.spec.kiln_file import load_kiln

SPEC = load_kiln("quick")


@cache
def _seen() -> Observed:
    return observe(SPEC)


def test_looks_reach_from_lighting_to_the_end() -> None:
    """Every half hour; the fine steps from four hours before the climb on."""
    seen = _seen()

    np.testing.assert_allclose(np.diff(seen.look_h), 0.5)
    assert seen.look_h[0] == 0.0
    assert seen.look_h[-1] == seen.hour[-1] == pytest.approx(SPEC.points[-1][0])
    assert seen.hour[0] == pytest.approx(SPEC.stage("climb").begin_h - 4.0, abs=0.51)


def test_climb_is_the_guides_over_each_hour() -> None:
    """Together they make the way from 300 degC to the soak."""
    seen = _seen()
    begin_h = seen.reached_h(300.0)
    climbs = seen.climbs_c_h()
    way_c = np.diff(np.interp([begin_h, begin_h + len(climbs)], seen.look_h, seen.guide_c))

    assert climbs.sum() == pytest.approx(float(way_c[0]))


def test_rows_of_a_stage_are_its_hours() -> None:
    """The reduction, to a step."""
    seen = _seen()
    hours = seen.hour[seen.rows_of("reduction")]

    assert hours[0] == pytest.approx(SPEC.stage("reduction").begin_h, abs=0.002)
    assert hours[-1] == pytest.approx(SPEC.stage("high-fire").begin_h, abs=0.002)


def test_second_armfuls_are_no_stokes() -> None:
    """Fewer stokes than armfuls, none within 75 s of the one before."""
    seen = _seen()
    stokes_h = seen.front_stokes_h("high-fire")

    assert 0 < len(stokes_h) < len(seen.deeds(DeedKind.FRONT_STOKE, "high-fire"))
    assert np.diff(stokes_h).min() > 75.0 / 3600.0


def test_dips_are_of_the_thermocouple_at_the_place() -> None:
    """The firebox dips at every stoke, more than the front; no place without a sensor has any."""
    seen = _seen()

    assert len(seen.dips_c("firebox", "climb")) == pytest.approx(len(seen.front_stokes_h("climb")), abs=1)
    assert np.median(seen.dips_c("firebox", "climb")) > 3.0 * np.median(seen.dips_c("front", "climb"))
    assert len(seen.dips_c("timber", "climb")) == 0


def test_side_stokes_move_their_own_zone_most() -> None:
    """Heat goes toward the flue, and little of it."""
    seen = _seen()

    assert np.median(seen.own_move_c) > np.median(seen.next_move_c) > 0.0


def test_air_is_short_in_reduction_only() -> None:
    """Below 1 there, above 1 before and after."""
    ratio = [_seen().excess_air(stage) for stage in ("climb", "reduction", "high-fire")]

    assert ratio[0] > 1.0 > ratio[1]
    assert ratio[2] > 1.0
