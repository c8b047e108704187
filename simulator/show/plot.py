"""A plot of any scenario as PNG: what the sensors read, with the truth beside it.

It needs matplotlib, which the simulator itself does not: `pip install 'nightstoke[plots]'`.
"""

from importlib import import_module
from pathlib import Path
from types import ModuleType

import numpy as np

from monitor.model import FindingKind, FloatArray, SensorFault
from simulator.node import Node, Readout, boot_of
from simulator.run import Course
from simulator.script.scenarios import Scenario
from simulator.script.spells import settle_spells
from simulator.show.plot_look import PAPER, RC
from simulator.show.plot_panels import Picture, draw_air, draw_heat, draw_true, set_hours
from simulator.show.readings import read_c
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.whole import Truth
from simulator.whole_firing import fire, whole_course

SHORT_S = 16 * 3600
"""A plot of no more time than this shows a reading every 10 s, a longer one every minute."""
SHORT_EVERY_S = 10
LONG_EVERY_S = 60
INCHES = (15.0, 10.0)
DPI = 110


class PlotError(Exception):
    """A plot that cannot be drawn; says what to install."""


def plot_run(spec: KilnSpec, scenario: Scenario, seed: int, out_path: Path, *, course: Course | None = None) -> Truth:
    """Fire `spec` as `scenario` and `course` (by default a whole firing) say, draw it, and return what was true.

    Raises:
        PlotError: matplotlib is not installed.
    """
    _matplotlib()
    picture = picture_of(spec, scenario, seed, course or whole_course(spec))
    draw(picture, f"{scenario.name}  ·  {spec.name}  ·  seed {seed}", scenario.words, out_path)
    return picture.truth


def picture_of(spec: KilnSpec, scenario: Scenario, seed: int, course: Course) -> Picture:
    """Fire the kiln and return what there is to draw."""
    begin_s = course.live_s - course.lead_in_s
    every_s = LONG_EVERY_S
    if course.duration_s is not None and course.lead_in_s + course.duration_s <= SHORT_S:
        every_s = SHORT_EVERY_S
    spells = settle_spells(scenario.spells, spec, course.live_h)
    node = Node(spec, spells, seed=seed, lit=course.lit, boot=boot_of(seed, course.lit, begin_s))
    readouts: list[Readout] = []
    truth = fire(
        spec, scenario, course, seed=seed, on_block=lambda _, trace: readouts.append(node.read(trace, every_s))
    )
    hour = np.concatenate([r.clock_s for r in readouts]) / 3600.0
    celsius = np.concatenate([read_c(spec, spells, r) for r in readouts])
    return Picture(spec, hour, _as_heard(spec, truth, hour, celsius), truth)


def draw(picture: Picture, title: str, words: str, out_path: Path) -> None:
    """Draw `picture` to `out_path` under `title` and the scenario's `words`."""
    matplotlib = _matplotlib()
    with matplotlib.rc_context(RC):
        figure = matplotlib.figure.Figure(figsize=INCHES)
        ratios = {"height_ratios": [5.0, 2.6, 1.9], "hspace": 0.06}
        heat, true, air = figure.subplots(3, 1, sharex=True, gridspec_kw=ratios)
        figure.subplots_adjust(left=0.085, right=0.955, top=0.9, bottom=0.055)
        draw_heat(heat, picture)
        draw_true(true, picture)
        draw_air(air, picture)
        set_hours(air, picture)
        figure.text(0.085, 0.968, title, fontsize=14, fontweight="bold")
        figure.text(0.085, 0.95, words.replace("\n", " "), fontsize=9)
        figure.savefig(out_path, dpi=DPI, facecolor=PAPER)


def _as_heard(spec: KilnSpec, truth: Truth, hour: FloatArray, celsius: FloatArray) -> FloatArray:
    """Return `celsius` (n, S) with NaN where nothing arrived."""
    heard = celsius.copy()
    ids = [s.id for s in spec.sensors]
    for span in truth.of(FindingKind.SENSOR):
        if span.fault is SensorFault.MISSING and span.sensor is not None:
            heard[(hour >= span.begin_h) & (hour < span.end_h), ids.index(span.sensor)] = np.nan
    return heard


def _matplotlib() -> ModuleType:
    try:
        import_module("matplotlib.figure")
        return import_module("matplotlib")
    except ModuleNotFoundError as error:
        raise PlotError("a plot needs matplotlib: pip install 'nightstoke[plots]'") from error
