"""From sites to arrays with a leading kiln axis."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.setup import EngineSetup, fingerprint, planned, setup_from_sites
from monitor.plan import planned_c, planned_climb_c_per_h
from monitor.site_file import Site, parse_site

PLAN = '[plan]\nlit = "2026-11-20T06:00:00+00:00"\npoints = [[0, 20], [48, 300], [96, 1280]]\n'


def test_kilns_of_different_size_are_padded_and_masked(make_site: Callable[..., Site]) -> None:
    """The sensor axis is as long as the largest kiln's; what is padding is present nowhere."""
    setup = setup_from_sites([make_site(["middle"]), make_site(["firebox", "front", "flue"])])

    assert setup.shape == (2, 3)
    assert setup.present.tolist() == [[True, False, False], [True, True, True]]
    assert setup.ids == (("middle",), ("firebox", "front", "flue"))
    assert not (setup.heat | setup.chamber)[~setup.present].any()


def test_timber_and_oxygen_probes_are_outside_the_fire() -> None:
    """A timber sensor and a zirconia probe are no heat sensors and never guide."""
    site = parse_site(
        '[kiln]\nname = "k"\n'
        '[[sensor]]\nid = "beam"\ninput = "a/1"\ntype = "K"\nplace = "timber"\n'
        '[[sensor]]\nid = "probe"\ninput = "a/2"\ntype = "zirconia"\nplace = "middle"\n'
        '[[sensor]]\nid = "ware"\ninput = "a/3"\ntype = "S"\nplace = "back"\n',
        "kiln.toml",
    )
    setup = setup_from_sites([site])

    assert setup.heat.tolist() == [[False, False, True]]
    assert setup.chamber.tolist() == [[False, False, True]]
    assert setup.guide_rank.tolist() == [[np.inf, np.inf, 0.0]]


def test_the_guide_hands_over_by_place_then_by_order(make_site: Callable[..., Site]) -> None:
    """Middle, front, back, firebox, each in the site's order; the flue never."""
    setup = setup_from_sites([make_site(["firebox", "back", "middle", "middle", "flue", "front"])])

    order = np.argsort(setup.guide_rank[0])
    assert [setup.ids[0][i] for i in order[:5]] == ["middle", "middle-3", "front", "back", "firebox"]
    assert setup.guide_rank[0, 4] == np.inf


def test_an_agreed_guide_comes_first(make_site: Callable[..., Site]) -> None:
    """The plan's own guide ranks before every place, even a flue."""
    plan = '[plan]\npoints = [[0, 20], [1, 30]]\nguide = "flue"\n'
    setup = setup_from_sites([make_site(["middle", "flue"], plan)])

    assert setup.guide_rank.tolist() == [[1.0, 0.0]]


@pytest.fixture
def two_kilns(make_site: Callable[..., Site]) -> EngineSetup:
    """One kiln with a plan of three points, one without a plan."""
    return setup_from_sites([make_site(["middle"], PLAN), make_site(["middle"])])


def test_plans_are_read_as_the_plan_room_reads_them(two_kilns: EngineSetup, make_site: Callable[..., Site]) -> None:
    """Target and climb equal those of monitor.plan before, at, between and after the points."""
    plan = make_site(["middle"], PLAN).agreed_plan
    assert plan is not None
    assert plan.lit is not None
    hours = np.array([-0.1, 0.0, 12.0, 48.0, 60.0, 96.0, 96.1])

    target, climb = planned(two_kilns, np.stack([hours, hours], axis=1))

    np.testing.assert_allclose(target[:, 0], planned_c(plan, plan.lit, plan.lit + hours * 3600.0))
    np.testing.assert_allclose(climb[:, 0], planned_climb_c_per_h(plan, plan.lit, plan.lit + hours * 3600.0))
    assert np.isnan(target[:, 1]).all()
    assert np.isnan(climb[:, 1]).all()


def test_a_plan_says_nothing_while_lighting_is_unknown(two_kilns: EngineSetup) -> None:
    """Hours that are NaN give NaN."""
    target, climb = planned(two_kilns, np.full(2, np.nan))

    assert np.isnan(target).all()
    assert np.isnan(climb).all()


def test_lit_is_the_plans_or_left_to_the_first_scan(two_kilns: EngineSetup) -> None:
    """`lit` is epoch seconds where the plan tells it, NaN elsewhere; has_plan tells them apart."""
    assert two_kilns.lit[0] == 1_795_154_400.0
    assert np.isnan(two_kilns.lit[1])
    assert two_kilns.has_plan.tolist() == [True, False]


def test_the_fingerprint_tells_sensors_places_and_guide_apart(make_setup: Callable[..., EngineSetup]) -> None:
    """Another sensor or another place makes another fingerprint; the plan does not."""
    base = fingerprint(make_setup(["middle", "front"]))

    assert base == fingerprint(make_setup(["middle", "front"], PLAN))
    assert base != fingerprint(make_setup(["middle", "back"]))
    assert base != fingerprint(make_setup(["middle"]))
