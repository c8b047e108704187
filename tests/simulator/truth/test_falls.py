"""What counts as a fall, worked by hand on made-up minutes."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.spec.kiln_file import load_kiln
from simulator.spec.kiln_parts import ZoneSpec
from simulator.truth.falls import true_falls
from simulator.truth.minutes import Minutes
from simulator.truth.spans import TrueSpan

DEMO = load_kiln("demo")
SPEC = replace(
    DEMO,
    stages=(
        replace(DEMO.stages[0], name="climb", begin_h=0.0, interval_min=8.0),
        replace(DEMO.stages[0], name="high-fire", begin_h=10.0, interval_min=4.0),
        replace(DEMO.stages[0], name="cooling", begin_h=20.0, interval_min=0.0),
    ),
)
MIDDLE = next(z.name for z in SPEC.zones if z.place == "middle")
MIDDLE_AT = SPEC.zone_index(MIDDLE)
FRONT_AT = next(n for n, z in enumerate(SPEC.zones) if z.place == "front")


def _quiet(begin_h: float, hours: float) -> Minutes:
    """Return minutes at 900 degC everywhere."""
    count = round(hours * 60)
    zones = np.ones((count, len(SPEC.zones)))
    return Minutes(
        hour=begin_h + (np.arange(count) + 0.5) / 60.0,
        gas_c=900.0 * zones,
        ware_c=900.0 * zones,
        junction_c=900.0 * np.ones((count, len(SPEC.sensors))),
        air_kg_s=0.04 * zones,
        demand_kg_s=0.02 * zones,
        door=np.zeros(count),
        ports=np.zeros((count, len(SPEC.zones))),
        embers_kg=np.ones(count),
    )


def _dip(minutes: Minutes, first: int, count: int, drop_c: float, zone: int = MIDDLE_AT) -> None:
    minutes.gas_c[first : first + count, zone] -= drop_c


def _from_minute(spans: list[TrueSpan], begin_h: float) -> list[tuple[int, int]]:
    return [(round((s.begin_h - begin_h) * 60), round((s.end_h - begin_h) * 60)) for s in spans]


@pytest.mark.parametrize(
    ("drop_c", "for_min", "falls"),
    [
        (22.0, 20, [(100, 120)]),  # 6 of 11 minutes are needed for more than 10 degC
        (30.0, 5, [(98, 107)]),  # 4 of 11
        (11.5, 14, [(104, 110)]),  # 10 of 11
        (11.5, 13, [(104, 109)]),  # 5 min are enough
        (11.5, 12, []),  # 4 min are not
        (10.1, 20, [(105, 115)]),  # all 11
        (10.0, 20, []),  # not more than 10 degC
        (60.0, 1, []),  # gone in the mean
    ],
)
@pytest.mark.parametrize("series", ["gas_c", "ware_c"])
def test_drop_is_a_fall_by_depth_and_length(
    drop_c: float, for_min: int, falls: list[tuple[int, int]], series: str
) -> None:
    """Stokes 4 min apart: a mean of 10 min holds 11 minutes; a drop by d weighs d k / 11 where k of them are in it."""
    minutes = _quiet(12.0, 4.0)
    getattr(minutes, series)[100 : 100 + for_min, MIDDLE_AT] -= drop_c

    assert _from_minute(true_falls(SPEC, minutes), 12.0) == falls


def test_longer_interval_averages_longer() -> None:
    """Stokes 8 min apart: 20 min, 21 minutes' means; 22 degC for 15 min need 10 of them."""
    minutes = _quiet(2.0, 4.0)
    _dip(minutes, 100, 15, 22.0)

    assert _from_minute(true_falls(SPEC, minutes), 2.0) == [(99, 116)]


def test_fall_is_over_once_its_high_is_half_an_hour_old() -> None:
    """40 degC down for good from minute 100: the last mean within 10 degC of the old level is that of minute 102."""
    minutes = _quiet(12.0, 6.0)
    _dip(minutes, 100, 300, 40.0)

    assert _from_minute(true_falls(SPEC, minutes), 12.0) == [(97, 133)]


@pytest.mark.parametrize(("c_per_h", "falls"), [(19.9, 0), (20.1, 1)])
def test_slow_decline_is_a_fall_from_ten_degrees_in_half_an_hour_on(c_per_h: float, falls: int) -> None:
    """That is 20 degC/h."""
    minutes = _quiet(12.0, 6.0)
    minutes.ware_c[:, MIDDLE_AT] -= c_per_h * (minutes.hour - 12.0)

    assert len(true_falls(SPEC, minutes)) == falls


@pytest.mark.parametrize(("second", "falls"), [(139, [(95, 164)]), (140, [(95, 125), (135, 165)])])
def test_breaks_under_ten_minutes_are_closed(second: int, falls: list[tuple[int, int]]) -> None:
    """Nine minutes and ten, between drops so deep that a single minute of eleven is enough."""
    minutes = _quiet(12.0, 4.0)
    _dip(minutes, 100, 20, 121.0)
    _dip(minutes, second, 20, 121.0)

    assert _from_minute(true_falls(SPEC, minutes), 12.0) == falls


@pytest.mark.parametrize("zone", SPEC.zones, ids=lambda zone: zone.name)
def test_only_the_chamber_falls(zone: ZoneSpec) -> None:
    """Firebox, flue and chimney have no ware that anybody minds; the zone is named."""
    minutes = _quiet(12.0, 4.0)
    _dip(minutes, 100, 20, 60.0, SPEC.zone_index(zone.name))
    falls = true_falls(SPEC, minutes)

    assert [f.zones for f in falls] == ([(zone.name,)] if zone.place in ("front", "middle", "back") else [])


def test_fall_is_one_over_all_zones() -> None:
    """Front first, the middle 15 min later: one span that names both."""
    minutes = _quiet(12.0, 4.0)
    _dip(minutes, 100, 20, 22.0, FRONT_AT)
    _dip(minutes, 115, 20, 22.0)
    (fall,) = true_falls(SPEC, minutes)

    assert _from_minute([fall], 12.0) == [(100, 135)]
    assert set(fall.zones) == {SPEC.zones[FRONT_AT].name, MIDDLE}


def test_each_zone_has_to_be_down_for_five_minutes() -> None:
    """Four minutes of the front and then four of the middle are no fall."""
    minutes = _quiet(12.0, 4.0)
    _dip(minutes, 100, 12, 11.5, FRONT_AT)
    _dip(minutes, 104, 12, 11.5)

    assert true_falls(SPEC, minutes) == []


def test_closing_up_ends_a_fall_and_begins_none() -> None:
    """What cools after the closing is not averaged into the minutes before it."""
    minutes = _quiet(18.0, 4.0)
    minutes.gas_c[120:] -= 300.0
    cooling_only = true_falls(SPEC, minutes)
    _dip(minutes, 100, 60, 60.0)
    (fall,) = true_falls(SPEC, minutes)

    assert cooling_only == []
    assert fall.end_h == pytest.approx(20.0)
