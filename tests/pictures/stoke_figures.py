"""Figures of stokes and their rhythm."""

from pathlib import Path

import numpy as np
from figure_kit import BLUE, GOLD, GREY, PURPLE, RED, START, engine_of, mark, panels, save, site_of, slots_of, watched

from monitor.engine.charts import ewma, ewma_limit
from monitor.engine.limits import (
    RHYTHM_SHARE,
    RHYTHM_SPREAD,
    RHYTHM_WIDTH,
    STOKE_BLOCK_BEATS,
    STOKE_LEAST_EVIDENCE,
)  # fmt: skip
from monitor.engine.rhythm import judge_rhythm, new_rhythm
from monitor.engine.stoke_cells import BLOCK, KEPT, newest_begin
from monitor.engine.stoke_noise import surprises
from monitor.engine.stoke_shapes import WINDOW
from monitor.engine.stoke_state import Stoke
from monitor.model import SLOT_S, FindingKind
from tests.bench.fireboxes import SENSORS, fire

HOURS = 17.1
SHOWN_MIN = 30.0
AGES_S = 120.0


def draw_stoke(folder: Path) -> None:
    """Show half an hour of a climb: reading, surprises, evidence, what is told, and the answer that was learnt."""
    made = fire(202)
    n = int(HOURS * 3600.0 / SLOT_S)
    celsius = made.slots_c[:n]
    engine = engine_of(site_of(SENSORS))
    watch = engine._stokes

    def look() -> list[float]:
        z = surprises(watch.noise, watch.cells, KEPT - BLOCK, KEPT)[0, 0]
        return [*z.tolist(), *watch.stokes.found[0, -BLOCK:].tolist()]

    told, seen = watched(engine, slots_of(celsius), look)
    seen = seen[STOKE_BLOCK_BEATS - 1 :: STOKE_BLOCK_BEATS]
    block_end = np.arange(1, len(seen) + 1) * BLOCK * SLOT_S
    begin_s = newest_begin(block_end[:, None]) - SLOT_S * np.arange(BLOCK)[::-1]  # type: ignore[arg-type]
    z_min, z = begin_s.ravel() / 60.0, seen[:, :BLOCK].ravel()
    found_min, found = z_min - (WINDOW - 2) * SLOT_S / 60.0, seen[:, BLOCK:].ravel()
    end = (HOURS - 0.2) * 60.0
    span = (end - SHOWN_MIN, end)
    figure, axes = panels(3, 2, height=4.2, sharex="col", width_ratios=[3, 1], height_ratios=[3, 2, 2])
    slot_min = np.arange(n) * SLOT_S / 60.0
    inside = (slot_min >= span[0]) & (slot_min <= span[1])
    axes[0].plot(slot_min[inside] - span[0], celsius[inside, 0], color="black", linewidth=0.9)
    axes[0].set(ylabel="firebox, degC", title="doors opened (grey: stokes, gold: looks) and stokes told (red)")
    for panel in (axes[0], axes[2], axes[4]):
        for moments, color in ((made.stokes_s, GREY), (made.looks_s, GOLD)):
            for at in moments / 60.0 - span[0]:
                if 0.0 <= at <= SHOWN_MIN:
                    panel.axvline(at, color=color, linewidth=3.0, alpha=0.35)
    onsets = np.array([f.onset - START for f in told if f.kind is FindingKind.STOKE]) / 60.0 - span[0]
    low = float(np.nanmin(celsius[inside, 0]))
    axes[0].plot(onsets, np.full(len(onsets), low - 1.0), "^", color=RED, markersize=5.0)
    axes[2].stem(z_min - span[0], z, linefmt=BLUE, markerfmt=" ", basefmt=" ")
    axes[2].set(ylabel="surprise z", ylim=(-5.5, 5.5))
    axes[4].plot(found_min - span[0], found, color=PURPLE, linewidth=1.0)
    axes[4].axhline(STOKE_LEAST_EVIDENCE, color=RED, linewidth=1.0, linestyle=":")
    axes[4].set(xlabel="minutes", ylabel="evidence", xlim=(0.0, SHOWN_MIN))
    age_s = np.arange(int(AGES_S / SLOT_S)) * SLOT_S
    for panel, sensor in ((axes[1], 0), (axes[3], 1)):
        panel.bar(age_s, watch.answer.mean[0, sensor, : len(age_s)], width=4.0, color=BLUE)
        panel.axhline(0.0, color=GREY, linewidth=0.6)
        panel.set(ylim=(-5.5, 5.5), ylabel="mean z")
        panel.annotate(SENSORS[sensor], (0.97, 0.93), xycoords="axes fraction", ha="right", va="top")
    axes[1].set_title("answer learnt, by seconds")
    axes[3].tick_params(labelbottom=True)
    axes[5].set_axis_off()
    save(figure, folder, "stoke")


def draw_rhythm(folder: Path) -> None:
    """Show the chart of log intervals of a crew that slows down, and when that is told."""
    rng = np.random.default_rng(2)
    wanted_min = np.where(np.arange(40) < 24, 6.0, 8.4)
    onsets = START + np.cumsum(wanted_min * np.exp(rng.normal(0.0, 0.08, len(wanted_min)))) * 60.0
    rhythm, told, off, chart, limit = new_rhythm(1), [], [], [], []
    for onset in onsets.tolist():
        stoke = Stoke(0, 0, 5.0, onset, 9.0)
        now, yes, no = onset + 130.0, np.ones(1, bool), np.zeros(1, bool)
        told += [(now, drift) for drift in judge_rhythm(rhythm, [stoke], now=now, heard=yes, closed=no)]
        intervals = np.diff(rhythm.onsets[0][np.isfinite(rhythm.onsets[0])])
        known = np.log(intervals / rhythm.usual_s[0]) if len(intervals) else np.full(1, np.nan)
        off.append(known[-1])
        chart.append(ewma(known, RHYTHM_SHARE, 0.0)[-1])
        limit.append(float(ewma_limit(RHYTHM_SPREAD, RHYTHM_SHARE, RHYTHM_WIDTH, len(known))))
    at = (onsets - START) / 60.0
    figure, (axes,) = panels(height=2.9)
    axes.axvspan(at[23], at[-1], color=GREY, alpha=0.15, linewidth=0)
    axes.annotate("a stoke every 6 min", (at[16], -0.29), ha="center")
    axes.annotate("every 8.4 min", (at[31], -0.29), ha="center")
    axes.plot(at, off, "o", color=GREY, markersize=3.5, label="log of interval over the usual one")
    axes.plot(at, chart, color=BLUE, label="EWMA")
    axes.plot(at, limit, color=RED, linewidth=1.0, linestyle=":", label="limit: three standard deviations")
    for moment, drift in told:
        mark(axes, (moment - START) / 60.0, f"told: {drift.ratio:.2f} times" if drift.begins else "over")
    axes.set(xlabel="minutes", ylabel="log ratio", xlim=(at[8], at[-1]), ylim=(-0.35, 0.62))
    axes.legend(loc="upper left")
    save(figure, folder, "rhythm")
