"""The panels of a plot show what was true, in its place."""

from dataclasses import replace

import matplotlib.figure
import numpy as np
import pytest
from matplotlib.axes import Axes

from monitor.model import FindingKind, SensorFault
from simulator.physics.cones import TrueCone
from simulator.show.plot_panels import Picture, draw_air, draw_heat, draw_true, set_hours
from simulator.spec.kiln_file import load_kiln
from simulator.truth.minutes import Minutes
from simulator.truth.spans import TrueSpan
from simulator.truth.stokes import Door, TrueStoke
from simulator.truth.whole import Truth

SPEC = load_kiln("demo")
ZONES, SENSORS = len(SPEC.zones), len(SPEC.sensors)
FRONT = next(z.name for z in SPEC.zones if z.place == "front")
SPANS = (
    TrueSpan(FindingKind.FALL, 70.5, 71.0, zones=(FRONT,)),
    TrueSpan(FindingKind.FALL, 71.5, 71.7, zones=(FRONT,)),
    TrueSpan(FindingKind.RHYTHM, 70.2, 70.8, ratio=1.4),
    TrueSpan(FindingKind.SENSOR, 70.1, 71.9, sensor=SPEC.guide, fault=SensorFault.DRIFT),
)
STOKES = tuple(TrueStoke(70.0 + k / 10.0, Door.FRONT, "firebox", 2.0) for k in range(20))
SIDES = (TrueStoke(70.55, Door.SIDE, FRONT, 0.5),)
CONES = (
    TrueCone(FRONT, "8", 70.4, 70.9, 5.0, 90.0),
    TrueCone(FRONT, "9", 71.2, None, 0.8, 46.0),
    TrueCone(FRONT, "10", None, None, 0.1, 0.1),
)


def _picture(spans: tuple[TrueSpan, ...] = SPANS) -> Picture:
    hour = 70.0 + (np.arange(120) + 0.5) / 60.0
    zones = np.ones((120, ZONES))
    minutes = Minutes(
        hour=hour, gas_c=1100.0 * zones, ware_c=1000.0 * zones, junction_c=1000.0 * np.ones((120, SENSORS)),
        air_kg_s=zones, demand_kg_s=zones, door=hour * 0.0, ports=0.0 * zones, embers_kg=hour - 65.0,
    )  # fmt: skip
    truth = Truth(minutes, 0.9 * zones, (*STOKES, *SIDES), spans, CONES)
    return Picture(SPEC, hour, 1001.0 * np.ones((120, SENSORS)), truth)


@pytest.fixture
def axes() -> Axes:
    """Return empty axes."""
    drawn: Axes = matplotlib.figure.Figure().subplots()
    return drawn


def _legend(axes: Axes) -> list[str]:
    legend = axes.get_legend()
    assert legend is not None
    return [text.get_text() for text in legend.get_texts()]


def test_heat_names_every_sensor_the_ware_the_plan_and_what_is_shaded(axes: Axes) -> None:
    """Each kind once, and a sensor's fault not at all: it is not the fire's."""
    draw_heat(axes, _picture())
    words = _legend(axes)

    assert [w for w in words if w.endswith(")")] == [f"{s.id} ({s.type})" for s in SPEC.sensors]
    assert [w for w in words if w.startswith("ware")] == ["ware, front", "ware, middle", "ware, back"]
    assert words[-3:] == [f"plan for {SPEC.guide}", "fall", "rhythm"]


def test_heat_shows_what_is_true_though_a_sensor_lies(axes: Axes) -> None:
    """A reading far out does not squeeze the rest."""
    picture = _picture()
    picture.read_c[50:60, 0] = -400.0
    draw_heat(axes, picture)

    assert 900.0 < axes.get_ylim()[0] < 1000.0 < axes.get_ylim()[1] < 1100.0


def test_heat_names_the_stages_that_are_shown(axes: Axes) -> None:
    """With the interval that the crew intends."""
    draw_heat(axes, _picture())
    stage = SPEC.stage_at(70.5)

    assert f"{stage.name}\nevery {stage.interval_min:g} min" in [t.get_text() for t in axes.texts]


def test_stage_that_begins_within_is_marked_and_named_where_there_is_room(axes: Axes) -> None:
    """One at 71 h, one two minutes before the end, one after it."""
    stage = SPEC.stages[0]
    hours = {"first": 0.0, "second": 71.0, "third": 71.97, "fourth": 90.0}
    stages = tuple(replace(stage, name=name, begin_h=hour) for name, hour in hours.items())
    draw_heat(axes, replace(_picture(()), spec=replace(SPEC, stages=stages)))
    lines = [line.get_xdata()[0] for line in axes.lines]

    assert [t.get_text().partition("\n")[0] for t in axes.texts] == ["second", "first"]
    assert (71.0 in lines, 71.97 in lines, 90.0 in lines) == (True, True, False)


def test_every_kind_has_its_lane(axes: Axes) -> None:
    """Stokes by door, spans by kind, cones by pack."""
    draw_true(axes, _picture())
    lanes = [label.get_text() for label in axes.get_yticklabels()]

    assert lanes[:7] == ["front stokes", "side stokes", "reduction", "stall", "fall", "rhythm", "sensor fault"]
    assert lanes[7:] == [f"cones, {pack.zone}" for pack in SPEC.cones]


def test_lanes_hold_ticks_bars_and_numbers(axes: Axes) -> None:
    """A tick a stoke, how far off a rhythm was, which sensor failed how, and a cone that is down where it was down."""
    draw_true(axes, _picture())
    front, side = axes.collections[:2]
    texts = {text.get_text(): text.get_position() for text in axes.texts}

    assert len(front.get_paths()) == len(STOKES)
    assert len(side.get_paths()) == len(SIDES)
    assert set(texts) == {" x1.40", f" {SPEC.guide} drift", "8"}
    assert texts["8"][0] == pytest.approx(70.9)


def test_sensors_that_fail_together_are_told_together(axes: Axes) -> None:
    """All of them in one word."""
    gone = tuple(TrueSpan(FindingKind.SENSOR, 70.5, 71.0, sensor=s.id, fault=SensorFault.MISSING) for s in SPEC.sensors)
    pair = tuple(replace(span, fault=SensorFault.SWAPPED) for span in gone[1:3])
    picture = _picture((*gone, *pair))
    draw_true(axes, replace(picture, truth=replace(picture.truth, cones=())))

    assert [t.get_text() for t in axes.texts] == [" all missing", f" {pair[0].sensor}, {pair[1].sensor} swapped"]


def test_quiet_firing_has_empty_lanes(axes: Axes) -> None:
    """Nothing is drawn where nothing was."""
    picture = _picture(())
    draw_true(axes, replace(picture, truth=replace(picture.truth, cones=(), stokes=())))

    assert [t.get_text() for t in axes.texts] == []


def test_air_shows_firebox_and_chamber_with_the_embers(axes: Axes) -> None:
    """Cut off where a fire is merely cool."""
    draw_air(axes, _picture())

    assert _legend(axes) == [z.name for z in SPEC.zones if z.place not in ("flue", "chimney")]
    assert axes.get_ylim() == (0.0, 3.0)
    assert [a.get_ylabel() for a in axes.figure.axes] == ["excess air", "embers, kg"]


def test_hours_are_counted_in_steps_that_people_use(axes: Axes) -> None:
    """Two hours: every quarter."""
    set_hours(axes, _picture())

    np.testing.assert_allclose(axes.get_xticks(), 70.0 + np.arange(9) / 4.0)
    assert axes.get_xlim() == pytest.approx((70.0, 72.0))
