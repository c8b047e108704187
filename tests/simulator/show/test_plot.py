"""A scenario becomes a PNG with its truth; without matplotlib it is said what to install."""

import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from monitor.model import FindingKind
from simulator.run import Course, course_of
from simulator.script.line_faults import LineFault
from simulator.script.probe_faults import ProbeFault
from simulator.script.scenarios import find_scenario
from simulator.script.spells import Spell
from simulator.show import plot
from simulator.show.plot import PlotError, picture_of, plot_run
from simulator.spec.kiln_file import load_kiln
from simulator.whole_firing import LIT, whole_course

SPEC = load_kiln("demo")
STEADY = find_scenario("steady")
HOUR = course_of(LIT, live_h=1.5, lead_in_h=0.5, duration_h=0.5)
"""From an hour after lighting on."""


class EnoughError(Exception):
    """Nothing more is wanted."""


def test_plot_is_a_png_of_its_size(tmp_path: Path) -> None:
    """An hour of the preheat."""
    path = tmp_path / "x.png"
    truth = plot_run(SPEC, STEADY, 1, path, course=HOUR)
    head = path.read_bytes()[:24]

    assert head[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", head[16:]) == (1650, 1100)
    assert (truth.minutes.begin_h, truth.minutes.end_h) == pytest.approx((1.0, 2.0))


def test_plot_shows_what_a_service_hears() -> None:
    """Readings every 10 s near what the junctions were, and none while the line was silent."""
    open_probe = Spell(ProbeFault.OPEN, 1.6, 0.2, sensor=SPEC.sensors[-1].id)
    silent = replace(STEADY, spells=(Spell(LineFault.OUTAGE, 1.25, 0.25), open_probe))
    picture = picture_of(SPEC, silent, 1, HOUR)
    is_silent = (picture.hour >= 1.25) & (picture.hour < 1.5)
    junction_c = np.interp(picture.hour, picture.truth.minutes.hour, picture.truth.minutes.junction_c[:, 0])

    assert len(picture.hour) == 360
    assert np.isnan(picture.read_c[is_silent]).all()
    assert np.isnan(picture.read_c[(picture.hour > 1.6) & (picture.hour < 1.8), -1]).all()
    np.testing.assert_allclose(picture.read_c[~is_silent, 0], junction_c[~is_silent], atol=25.0)
    assert {s.sensor for s in picture.truth.of(FindingKind.SENSOR)} == {s.id for s in SPEC.sensors}


def test_long_plot_reads_every_minute() -> None:
    """More points than a plot is wide are of no use."""
    assert len(picture_of(SPEC, STEADY, 1, course_of(LIT, live_h=0.0, duration_h=16.5)).hour) == 990


def test_plot_is_of_the_whole_firing_unless_told_otherwise(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From lighting into the cooling."""
    asked: list[Course] = []

    def note(_spec: object, _scenario: object, _seed: int, course: Course) -> object:
        asked.append(course)
        raise EnoughError

    monkeypatch.setattr(plot, "picture_of", note)
    with pytest.raises(EnoughError):
        plot_run(SPEC, STEADY, 1, tmp_path / "x.png")

    assert asked == [whole_course(SPEC)]


def test_without_matplotlib_it_is_said_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Before any firing is worked out."""

    def missing(name: str) -> None:
        raise ModuleNotFoundError(name)

    monkeypatch.setattr(plot, "import_module", missing)
    with pytest.raises(PlotError, match=r"pip install 'nightstoke\[plots\]'"):
        plot_run(SPEC, STEADY, 1, tmp_path / "x.png")
