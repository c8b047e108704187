"""What the engine's figures share: the look, a site in one line, slots of temperatures, an engine that is watched."""

from collections.abc import Callable, Sequence
from io import BytesIO
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from PIL import Image

from monitor.engine.engine import Engine
from monitor.engine.limits import SLOTS_PER_BEAT
from monitor.engine.setup import setup_from_sites
from monitor.model import SLOT_S, Finding, FloatArray, Slots, Status
from monitor.site_file import Site, parse_site
from simulator.show.plot_look import FAINT, INK

START = 1_764_000_000.0
"""Epoch seconds at which every firing here begins, a multiple of the beat."""

PER_MIN = round(60.0 / SLOT_S)
PER_H = 60 * PER_MIN
RED, BLUE, GREEN, GOLD, PURPLE = "#a31621", "#1f78a4", "#4f8a3c", "#c98500", "#7a5aa6"
GREY = "#8b8f98"
VOLTS_PER_C, NOISE_VOLTS = 40.0e-6, 2.0e-6

LOOK = {
    "font.size": 8.5,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": FAINT,
    "axes.labelcolor": INK,
    "axes.titlesize": 9.0,
    "axes.titlelocation": "left",
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "lines.linewidth": 1.4,
    "legend.frameon": False,
    "legend.fontsize": 8.0,
}
mpl.rcParams.update(LOOK)


def panels(rows: int = 1, columns: int = 1, *, height: float = 3.2, **more: object) -> tuple[Figure, list[Axes]]:
    """Return a figure as wide as a page, on white, and its panels row by row."""
    figure = Figure(figsize=(8.0, height), layout="constrained", facecolor="white")
    return figure, np.atleast_1d(figure.subplots(rows, columns, **more)).ravel().tolist()  # type: ignore[arg-type]


def save(figure: Figure, folder: Path, name: str) -> None:
    """Write the figure as a small picture of 64 colours."""
    drawn = BytesIO()
    figure.savefig(drawn, dpi=110)
    with Image.open(drawn) as picture:
        picture.convert("RGB").quantize(64).save(folder / f"{name}.png", optimize=True)


def site_of(places: Sequence[str], plan: str = "", kinds: Sequence[str] = ()) -> Site:
    """Return a kiln with a sensor at each of `places`, named after it and its number; all type K unless said."""
    text = '[kiln]\nname = "Figure kiln"\n'
    for number, place in enumerate(places):
        kind = kinds[number] if kinds else "K"
        text += f'[[sensor]]\nid = "{place}-{number}"\ninput = "shed-1/t{number}"\ntype = "{kind}"\nplace = "{place}"\n'
    return parse_site(text + plan, "figure")


def engine_of(site: Site) -> Engine:
    """Return an engine for one kiln."""
    return Engine(setup_from_sites([site]))


def slots_of(celsius: FloatArray, emf_volts: FloatArray | None = None) -> Slots:
    """Return slots of temperatures (n, S), NaN where nothing was heard, with an emf that lives."""
    mean = celsius[:, None, :]
    emf = VOLTS_PER_C * mean if emf_volts is None else emf_volts[:, None, :]
    end = START + SLOT_S * np.arange(1, len(celsius) + 1)
    absent = np.isnan(mean)
    return Slots(
        end=end,
        known_at=end[:, None],
        mean_c=mean,
        count=np.where(absent, 0, 5),
        status=np.where(absent, Status.ABSENT, Status.OK).astype(np.uint8),
        emf_min_volts=emf - NOISE_VOLTS,
        emf_max_volts=emf + NOISE_VOLTS,
        cold_c=np.where(absent, np.nan, 20.0),
        late=np.zeros(mean.shape, bool),
    )


def watched(engine: Engine, slots: Slots, look: Callable[[], Sequence[float]]) -> tuple[list[Finding], FloatArray]:
    """Judge beat by beat; return what was told, and what `look` saw after each beat (beats, values)."""
    told: list[Finding] = []
    seen = []
    for begin in range(0, len(slots.end), SLOTS_PER_BEAT):
        cut = slice(begin, begin + SLOTS_PER_BEAT)
        part = Slots(*(getattr(slots, name)[cut] for name in Slots.__dataclass_fields__))
        told += [finding for _, finding in engine.judge(part)]
        seen.append(list(look()))
    return told, np.array(seen)


def sheathed(celsius: FloatArray, lag_s: float) -> FloatArray:
    """Return the answer of a first-order lag to `celsius` (n,), one slot each."""
    out = celsius.copy()
    share = 1.0 - np.exp(-SLOT_S / lag_s)
    for i in range(1, len(out)):
        out[i] = out[i - 1] + share * (celsius[i] - out[i - 1])
    return out


def mark(axes: Axes, at: float, words: str, color: str = RED) -> None:
    """Draw an upright line where something became known, with its words on top."""
    axes.axvline(at, color=color, linewidth=1.2, linestyle=(0, (4, 2)))
    axes.annotate(
        words, (at, 1.0), xycoords=("data", "axes fraction"), xytext=(3, -2), textcoords="offset points",
        color=color, va="top", fontsize=8.0,
    )  # fmt: skip
