"""A picture of what was missed or false in one firing: the junctions, and a row of marks for each kind."""

from pathlib import Path

import matplotlib as mpl
from judging import FRONT, SIDE, SPAN_KINDS, Verdict
from making import Firing

from monitor.model import FindingKind
from simulator.truth.reader import TruthFile

mpl.use("Agg")
from matplotlib import pyplot as plt  # after the choice of a canvas without a screen

ROWS = (*SPAN_KINDS, FRONT, SIDE)
TRUE, MISSED, FALSE = "#bbbbbb", "#d55e00", "#0072b2"


def draw_misses(firing: Firing, truth: TruthFile, verdict: Verdict, folder: Path) -> None:
    """Draw the misses of `firing` into `folder`, if there are any."""
    if not verdict.misses:
        return
    figure, (curves, marks) = plt.subplots(2, 1, sharex=True, figsize=(16, 9), height_ratios=(2, 1), layout="tight")
    hours = (truth.minutes.time - truth.header.lit) / 3600.0
    for column, sensor in enumerate(truth.header.sensors):
        curves.plot(hours, truth.minutes.junction_c[:, column], linewidth=0.8, label=sensor.id)
    curves.legend(loc="upper left")
    curves.set_ylabel("junction, degC")
    curves.set_title(f"{firing.name}: grey true, orange missed, blue false")

    def bar(row: str, begin: float, end: float, *, colour: str, height: float) -> None:
        left, width = (begin - truth.header.lit) / 3600.0, max((end - begin) / 3600.0, 0.03)
        marks.barh(ROWS.index(row), width, left=left, height=height, color=colour)

    for kind in SPAN_KINDS:
        for span in truth.of(FindingKind(kind)):
            bar(kind, span.begin, span.end, colour=TRUE, height=0.8)
    for miss in verdict.misses:
        bar(miss.kind, miss.begin, miss.end, colour=MISSED if miss.what == "missed" else FALSE, height=0.4)
    marks.set_yticks(range(len(ROWS)), ROWS)
    marks.set_xlabel("hours from lighting")
    figure.savefig(folder / f"{firing.name}.png", dpi=80)
    plt.close(figure)
