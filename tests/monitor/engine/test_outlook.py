"""Heat work, evenness and forecast of an engine that has judged a made-up firing, against the same by hand."""

from collections.abc import Callable

import msgspec
import numpy as np
import pytest

from monitor.engine.engine import Engine
from monitor.engine.outlook import Wanted
from monitor.heat_work.cones import CONES, cone_index
from monitor.model import FloatArray, Outlook, SensorOutlook, Slots, Status
from monitor.publish.messages import encode
from tests.monitor.engine.conftest import START

PER_H = 720
CONE_6_C = 1211.3
"""Where the model of tests/golden/cones.csv has cone 6 down on a climb of 60 degC/h."""
PLACES = ("front", "middle", "back")
PLAN = "[plan]\npoints = [[0, 600], [10, 1200], [12, 1200], [16, 1280]]\n"


@pytest.fixture
def outlook_after(
    make_engine: Callable[..., Engine], make_slots: Callable[..., Slots]
) -> Callable[..., tuple[Engine, Outlook]]:
    """Fire a kiln of three chamber sensors on `course` (n, 3) degC and return engine and outlook."""

    def fired(course: FloatArray, status: FloatArray | None = None, **asks: object) -> tuple[Engine, Outlook]:
        plan = str(asks.pop("plan", ""))
        engine = make_engine(PLACES, plan)
        engine.judge(make_slots(course, status))
        outlook = engine.outlook(Wanted(**asks))  # type: ignore[arg-type]
        assert outlook is not None
        assert msgspec.json.decode(encode(outlook), type=Outlook) == outlook  # it goes over the wire as it is
        return engine, outlook

    return fired


def _climb(to_c: FloatArray, c_per_h: float = 60.0) -> FloatArray:
    """Return degC (n, S) of steady climbs from 600 degC that end together, the middle at `to_c[1]`."""
    hours = (to_c[1] - 600.0) / c_per_h
    t = np.arange(round(hours * PER_H)) / PER_H
    return to_c + (t[:, None] - hours) * c_per_h


def _of(outlook: Outlook, sensor: str) -> SensorOutlook:
    return next(s for s in outlook.sensors if s.sensor == sensor)


def test_before_the_first_beat_there_is_no_outlook(make_engine: Callable[..., Engine]) -> None:
    """Nothing was heard."""
    assert make_engine(PLACES).outlook(Wanted()) is None


def test_a_climb_of_60_gives_its_own_temperature_and_cone(outlook_after: Callable[..., tuple[Engine, Outlook]]) -> None:
    """The definition of the equivalent: a steady climb of 60 degC/h to where cone 6 falls is worth just that."""
    _, outlook = outlook_after(_climb(np.array([CONE_6_C + 20.0, CONE_6_C, CONE_6_C - 30.0])))
    middle = _of(outlook, "middle")

    assert middle.equivalent_c == pytest.approx(CONE_6_C, abs=1.0)
    assert middle.celsius == pytest.approx(CONE_6_C, abs=1.0)
    assert middle.cone == "6"
    assert _of(outlook, "front").equivalent_c == pytest.approx(CONE_6_C + 20.0, abs=1.0)
    assert middle.half_width_c is not None
    assert 20.0 < middle.half_width_c < 26.0  # 2 sqrt(3^2 + 15^2/3 + (0.0075 1211)^2/3): model, reading, class 2


def test_a_soak_counts(outlook_after: Callable[..., tuple[Engine, Outlook]]) -> None:
    """An hour at the top is worth degrees, though the temperature stands."""
    rise = _climb(np.array([1150.0, 1150.0, 1150.0]))
    _, before = outlook_after(rise)
    _, after = outlook_after(np.concatenate([rise, np.full((PER_H, 3), 1150.0)]))

    assert _of(after, "middle").celsius == pytest.approx(_of(before, "middle").celsius, abs=1.0)
    assert _of(after, "middle").equivalent_c > _of(before, "middle").equivalent_c + 10.0  # type: ignore[operator]


def test_the_next_cone_falls_when_the_climb_gets_there(outlook_after: Callable[..., tuple[Engine, Outlook]]) -> None:
    """At 60 degC/h each degree to the end point of the next cone is a minute."""
    _, outlook = outlook_after(_climb(np.array([1180.0, 1160.0, 1140.0])), cone="6")
    middle = _of(outlook, "middle")
    assert middle.next_cone is not None
    assert middle.next_at is not None
    assert middle.next_at.likely is not None
    assert middle.wanted_cone_at is not None
    assert middle.wanted_cone_at.likely is not None

    end_c = CONES[cone_index(middle.next_cone)].end_60_c
    assert middle.next_at.likely - outlook.at == pytest.approx((end_c - 1160.0) * 60.0, abs=150.0)
    assert middle.wanted_cone_at.likely - outlook.at == pytest.approx((CONE_6_C - 1160.0) * 60.0, abs=150.0)
    assert middle.next_at.early is not None
    assert middle.next_at.early < middle.next_at.likely


def test_a_temperature_is_reached_when_a_ruler_says(outlook_after: Callable[..., tuple[Engine, Outlook]]) -> None:
    """100 degC more at 60 degC/h: in an hour and forty minutes."""
    _, outlook = outlook_after(_climb(np.array([1000.0, 1000.0, 1000.0])), celsius=1100.0)
    wanted = _of(outlook, "middle").wanted_at
    assert wanted is not None
    assert wanted.likely is not None

    assert wanted.likely - outlook.at == pytest.approx(6000.0, abs=200.0)


def test_points_of_the_plan_come_when_planned_to_a_kiln_on_its_plan(
    outlook_after: Callable[..., tuple[Engine, Outlook]],
) -> None:
    """Eight hours in: 1200 degC in two more hours, two of hold, then 1280 degC. What is behind is left out."""
    _, outlook = outlook_after(_climb(np.array([1080.0, 1080.0, 1080.0])), plan=PLAN)

    assert [p.celsius for p in outlook.points] == [1200.0, 1200.0, 1280.0]
    assert outlook.points[0].planned == pytest.approx(START + 10 * 3600.0)
    assert outlook.points[0].expected.likely == pytest.approx(START + 10 * 3600.0, abs=400.0)
    assert outlook.points[1].expected.likely == pytest.approx(START + 12 * 3600.0, abs=500.0)
    assert outlook.points[2].expected.likely == pytest.approx(START + 16 * 3600.0, abs=900.0)
    assert outlook.pace == pytest.approx(1.0, abs=0.02)
    assert outlook.reach_h == 72.0


def test_without_a_plan_it_looks_no_farther_than_it_learns(
    outlook_after: Callable[..., tuple[Engine, Outlook]],
) -> None:
    """Eight hours: 480 degC at 60 degC/h are within reach, 500 degC are not told."""
    _, outlook = outlook_after(_climb(np.array([800.0, 800.0, 800.0])), celsius=1300.0)
    wanted = _of(outlook, "middle").wanted_at

    assert (outlook.reach_h, outlook.pace, outlook.points) == (8.0, None, ())
    assert wanted is not None
    assert wanted.likely is None


def test_evenness_is_the_span_of_the_chamber(outlook_after: Callable[..., tuple[Engine, Outlook]]) -> None:
    """Front 1040, back 1000 degC; of two probes of class 2: 2 sqrt(2) 0.0075 1020 / sqrt(3) is 12.5 degC."""
    _, outlook = outlook_after(_climb(np.array([1040.0, 1020.0, 1000.0])))
    even = outlook.evenness
    assert even is not None

    assert (even.hottest, even.coldest) == ("front", "back")
    assert even.apart_c == pytest.approx(40.0, abs=1.0)
    assert even.unsure_c == pytest.approx(12.5, abs=0.1)


def test_after_closing_up_nothing_is_expected_and_heat_work_stays(
    outlook_after: Callable[..., tuple[Engine, Outlook]],
) -> None:
    """What the cones have seen they have seen."""
    engine, before = outlook_after(_climb(np.array([1250.0, 1250.0, 1250.0])), plan=PLAN)
    engine.close_up(before.at)
    after = engine.outlook(Wanted(celsius=1280.0, cone="10"))
    assert after is not None
    middle = _of(after, "middle")

    assert after.points == ()
    assert (middle.next_at, middle.wanted_at, middle.wanted_cone_at) == (None, None, None)
    assert middle.equivalent_c == _of(before, "middle").equivalent_c


def test_heat_work_over_a_gap_is_told_as_unmeasured(outlook_after: Callable[..., tuple[Engine, Outlook]]) -> None:
    """The last hour before the end is lost: most of the next cone's work lies there, and the share says so."""
    celsius = _climb(np.array([1200.0, 1200.0, 1200.0]))
    status = np.zeros(celsius.shape)
    status[-PER_H - 60 : -60, 1] = Status.OPEN
    _, outlook = outlook_after(celsius, status)

    assert _of(outlook, "middle").unmeasured > 0.5
    assert _of(outlook, "front").unmeasured == 0.0


def test_an_outlook_survives_a_restart(
    outlook_after: Callable[..., tuple[Engine, Outlook]], make_engine: Callable[..., Engine]
) -> None:
    """Heat work and what forecasts have learned are part of the saved state."""
    engine, outlook = outlook_after(_climb(np.array([1250.0, 1240.0, 1230.0])), plan=PLAN)
    again = make_engine(PLACES, PLAN)
    again.restore(engine.save())

    assert again.outlook(Wanted()) == outlook


def test_an_unknown_cone_is_refused() -> None:
    """With the range of those there are."""
    with pytest.raises(ValueError, match="no cone '16'; there are 022 to 15"):
        Wanted(cone="16")
