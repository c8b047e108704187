"""What counts as reduction, worked by hand on made-up minutes."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.spec.kiln_file import load_kiln
from simulator.truth.minutes import Minutes
from simulator.truth.reduction import excess_air, true_reduction
from simulator.truth.spans import TrueSpan

DEMO = load_kiln("demo")
SPEC = replace(
    DEMO,
    stages=(
        replace(DEMO.stages[0], name="high-fire", begin_h=0.0, interval_min=4.0),
        replace(DEMO.stages[0], name="cooling", begin_h=20.0, interval_min=0.0),
    ),
)


def _burning(begin_h: float, hours: float) -> Minutes:
    """Return minutes with 1.5 times the air that the fire needs, in every zone."""
    count = round(hours * 60)
    zones = np.ones((count, len(SPEC.zones)))
    return Minutes(
        hour=begin_h + (np.arange(count) + 0.5) / 60.0,
        gas_c=900.0 * zones,
        ware_c=900.0 * zones,
        junction_c=900.0 * np.ones((count, len(SPEC.sensors))),
        air_kg_s=0.03 * zones,
        demand_kg_s=0.02 * zones,
        door=np.zeros(count),
        ports=np.zeros((count, len(SPEC.zones))),
        embers_kg=np.ones(count),
    )


def _from_minute(spans: list[TrueSpan], begin_h: float) -> list[tuple[int, int]]:
    return [(round((s.begin_h - begin_h) * 60), round((s.end_h - begin_h) * 60)) for s in spans]


@pytest.mark.parametrize(
    ("demand_kg_s", "for_min", "spans"),
    [
        # the mean of 11 minutes passes 0.03 where the demand is d in k of them: k (d - 0.02) > 11 * 0.01
        (0.0402, 20, [(100, 120)]),  # 6 of 11
        (0.0301, 20, [(105, 115)]),  # all 11: 10 min are enough
        (0.0301, 19, []),  # 9 min are not
        (0.0300, 60, []),  # a ratio of 1 is not below 1
        (0.0300001, 60, [(105, 155)]),
        (0.2, 1, [(95, 106)]),  # one huge flare counts as long as the mean holds it: 11 min
    ],
)
def test_reduction_is_air_below_demand_for_ten_minutes(
    demand_kg_s: float, for_min: int, spans: list[tuple[int, int]]
) -> None:
    """Means of air over means of demand, both over 10 min: 11 minutes."""
    minutes = _burning(10.0, 4.0)
    minutes.demand_kg_s[100 : 100 + for_min, 1] = demand_kg_s

    assert _from_minute(true_reduction(SPEC, minutes), 10.0) == spans


def test_ratio_is_that_of_means_not_the_mean_of_ratios() -> None:
    """Half of the time no demand, half of it 0.05: 0.03 of air over about 0.025 is no reduction."""
    minutes = _burning(10.0, 4.0)
    minutes.demand_kg_s[:] = np.where(np.arange(240) % 2 == 0, 0.0, 0.05)[:, None]

    assert true_reduction(SPEC, minutes) == []
    # five or six of eleven minutes
    np.testing.assert_allclose(excess_air(SPEC, minutes)[100:102, 0], [0.33 / 0.30, 0.33 / 0.25])


@pytest.mark.parametrize(("second", "spans"), [(122, [(100, 142)]), (123, [(100, 120), (123, 143)])])
def test_breaks_under_three_minutes_are_closed(second: int, spans: list[tuple[int, int]]) -> None:
    """Two minutes and three: 20 min need 6 of 11 minutes, and the break lies between two such stretches."""
    minutes = _burning(10.0, 4.0)
    minutes.air_kg_s[:, 0] = np.where((np.arange(240) >= 100) & (np.arange(240) < 120), 0.0098, 0.03)
    minutes.air_kg_s[second : second + 20, 1] = 0.0098

    assert _from_minute(true_reduction(SPEC, minutes), 10.0) == spans


@pytest.mark.parametrize("zone", range(len(SPEC.zones)))
def test_every_zone_counts_and_is_named(zone: int) -> None:
    """Where it is short of air."""
    minutes = _burning(10.0, 4.0)
    minutes.demand_kg_s[60:120, zone] = 0.1
    (span,) = true_reduction(SPEC, minutes)

    assert span.zones == (SPEC.zones[zone].name,)


def test_dead_fire_is_no_reduction() -> None:
    """Nothing burns and nothing is drawn in: the ratio means nothing and is infinite."""
    minutes = _burning(10.0, 4.0)
    minutes.demand_kg_s[60:120] = 0.0
    minutes.air_kg_s[60:120] = 0.0

    assert true_reduction(SPEC, minutes) == []
    assert np.isinf(excess_air(SPEC, minutes)[90]).all()


def test_kiln_closed_up_is_not_in_reduction() -> None:
    """Embers smoulder in a clammed kiln; the watch has gone to bed."""
    minutes = _burning(18.0, 4.0)
    minutes.demand_kg_s[90:] = 0.1
    (span,) = true_reduction(SPEC, minutes)

    assert span.end_h == pytest.approx(20.0)
