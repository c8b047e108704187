"""A practice in numbers, on made-up minutes and deeds."""

import numpy as np
import pytest

from simulator.crew.deeds import Deed, DeedKind
from simulator.spec.kiln_file import load_kiln
from simulator.training.report import report_of
from simulator.truth.minutes import Minutes

SPEC = load_kiln("demo")
BEGIN_H, LIT = 76.0, 1_764_000_000.0
INTERVAL_MIN = SPEC.stage("high-fire").interval_min


def minutes_of(count: int, ware_c: np.ndarray | None = None, *, before: int = 60) -> Minutes:
    """Return minutes from an hour before the practice on; the ware follows the plan unless told."""
    hour = BEGIN_H + (np.arange(before + count) - before + 0.5) / 60.0
    zones = len(SPEC.zones)
    planned_c = np.interp(hour, *np.array(SPEC.points).T)
    ware = np.repeat(planned_c[:, None] if ware_c is None else ware_c[:, None], zones, axis=1)
    ware = ware - 3.0 * np.arange(zones)
    nothing = np.zeros((len(hour), zones))
    return Minutes(
        hour=hour,
        gas_c=ware,
        ware_c=ware,
        junction_c=np.repeat(planned_c[:, None], len(SPEC.sensors), axis=1),
        air_kg_s=nothing,
        demand_kg_s=nothing,
        door=nothing[:, 0],
        ports=nothing,
        embers_kg=nothing[:, 0],
    )


def front(*minutes: float, kg: float = 3.0) -> list[Deed]:
    """Return front stokes at minutes of the practice."""
    return [Deed(BEGIN_H + minute / 60.0, DeedKind.FRONT_STOKE, "firebox", kg) for minute in minutes]


def test_stokes_are_counted_from_the_practice_on() -> None:
    """The watch's own before it are not; armfuls less than 75 s apart are one stoke; all wood counts."""
    side = Deed(BEGIN_H + 0.1, DeedKind.SIDE_STOKE, "middle", 1.8)
    raked = Deed(BEGIN_H + 0.2, DeedKind.RAKE, "firebox", 0.0)
    report = report_of(SPEC, minutes_of(30), [*front(-5, -1, 4, 9, 10, 14), side, raked], begin_h=BEGIN_H, lit=LIT)

    assert report is not None
    assert (report.stokes, report.side_stokes) == (3, 1)
    assert report.wood_kg == pytest.approx(4 * 3.0 + 1.8)
    assert (report.begun, report.ended) == (LIT + 76 * 3600, LIT + 76.5 * 3600)


def test_intervals_are_held_against_the_agreed_ones() -> None:
    """The mean of those between the person's stokes, and what was agreed at each."""
    report = report_of(SPEC, minutes_of(30), front(-2, 4, 9, 15), begin_h=BEGIN_H, lit=LIT)

    assert report is not None
    assert report.mean_interval_min == pytest.approx(5.5)
    assert report.agreed_interval_min == INTERVAL_MIN


@pytest.mark.parametrize(
    ("stokes", "gap_min"),
    [([-7, 4, 9, 15], 15.0), ([-7, 14, 20], 21.0), ([4, 9, 26], 17.0), ([], 30.0), ([-7], 37.0)],
)
def test_the_longest_gap_has_open_ends(stokes: list[float], gap_min: float) -> None:
    """From the watch's last stoke before, and up to the end."""
    report = report_of(SPEC, minutes_of(30), front(*stokes), begin_h=BEGIN_H, lit=LIT)

    assert report is not None
    assert report.longest_gap_min == pytest.approx(gap_min)


def test_one_stoke_has_no_interval() -> None:
    """What cannot be told is not made up."""
    report = report_of(SPEC, minutes_of(10), front(4), begin_h=BEGIN_H, lit=LIT)

    assert report is not None
    assert (report.mean_interval_min, report.agreed_interval_min) == (None, None)


def test_falls_and_stalls_are_the_kilns_own() -> None:
    """On the plan none; ware that stands still for an hour and a half stalls, ware that sinks 40 degC falls."""
    hour = minutes_of(90).hour
    planned_c = np.interp(hour, *np.array(SPEC.points).T)
    still = np.minimum(planned_c, planned_c[60])
    sunk = np.where(hour > BEGIN_H + 0.5, planned_c - 40.0, planned_c)
    counts = []
    for ware_c in (planned_c, still, sunk):
        report = report_of(SPEC, minutes_of(90, ware_c), front(4, 8), begin_h=BEGIN_H, lit=LIT)
        assert report is not None
        counts.append((report.falls, report.stalls))

    assert counts[0] == (0, 0)
    assert counts[1] == (0, 1)
    assert counts[2][0] == 1


def test_what_was_over_before_the_practice_is_not_the_persons() -> None:
    """A fall of the watch's that ended half an hour before does not count."""
    hour = minutes_of(60, before=180).hour
    planned_c = np.interp(hour, *np.array(SPEC.points).T)
    dipped = np.where(abs(hour - BEGIN_H + 1.5) < 0.25, planned_c - 40.0, planned_c)
    report = report_of(SPEC, minutes_of(60, dipped, before=180), front(4), begin_h=BEGIN_H, lit=LIT)

    assert report is not None
    assert report.falls == 0


def test_warmest_and_coldest_are_chamber_places_at_the_end() -> None:
    """Neither the firebox nor the flue is one; the guide's range is that of the practice alone."""
    report = report_of(SPEC, minutes_of(30), front(4), begin_h=BEGIN_H, lit=LIT)
    planned_c = np.interp(BEGIN_H + np.array([0.5, 29.5]) / 60.0, *np.array(SPEC.points).T)

    assert report is not None
    assert (report.warmest[0], report.coldest[0]) == ("front", "back")
    assert report.warmest[1] - report.coldest[1] == pytest.approx(6.0, abs=0.11)
    assert (report.lowest_c, report.highest_c) == (
        pytest.approx(planned_c[0], abs=0.06),
        pytest.approx(planned_c[1], abs=0.06),
    )


def test_nothing_is_told_before_a_whole_minute() -> None:
    """There is nothing to tell of yet."""
    assert report_of(SPEC, minutes_of(0), front(-4), begin_h=BEGIN_H, lit=LIT) is None
