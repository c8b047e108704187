"""Figures of what is a sensor's own: a jump that no heat makes, a drift that only a neighbour shows."""

from pathlib import Path

import numpy as np
from figure_kit import (
    BLUE,
    GOLD,
    GREY,
    PER_H,
    PER_MIN,
    PURPLE,
    RED,
    START,
    engine_of,
    mark,
    panels,
    save,
    sheathed,
    site_of,
    slots_of,
    watched,
)  # fmt: skip

from monitor.engine.jumps import AFTER, BEFORE, KEPT, SIDE, _gap
from monitor.engine.limits import DRIFT_C, PAIR_CLIMB_SHARE
from monitor.model import SLOT_S, FindingState, SensorFault
from tests.bench.firings import Rhythm, stoke_ripple

LAG_S = 15.0
DROP_C = 40.0


def draw_jumps(folder: Path) -> None:
    """Show the two lines of the test for a jump over a sheath that follows the fire and over a contact that shifts."""
    rng = np.random.default_rng(1)
    second = np.arange(-SIDE, KEPT - SIDE) * SLOT_S
    gas = 900.0 - DROP_C * (second >= 0.0)
    noise = rng.normal(0.0, 0.3, (2, KEPT))
    cases = (("fire 40 degC colder, behind a thin sheath", sheathed(gas, LAG_S)), ("contact: 40 degC less", gas))
    figure, axes = panels(1, 2, height=2.9, sharey=True)
    for panel, (title, reading), some in zip(axes, cases, noise, strict=True):
        ring = reading + some
        gap = _gap(ring[None, None])
        for side, weights, begin in ((ring[:SIDE], BEFORE, 0), (ring[-SIDE:], AFTER, KEPT - SIDE)):
            value, slope = weights @ side
            x = second[begin : begin + SIDE]
            steps = np.append(x - second[SIDE], 0.0) / SLOT_S
            panel.plot(steps * SLOT_S, value + slope * steps, color=BLUE, linewidth=1.6, zorder=1)
        panel.plot(second, ring, "o", color="black", markersize=3.5)
        says = "a jump" if gap.is_jump[0, 0] else "no jump, it bends"
        panel.annotate(
            f"gap of the lines {abs(gap.size_c[0, 0]):.0f} degC: {says}", (0.03, 0.06), xycoords="axes fraction",
            color=RED if gap.is_jump[0, 0] else GREY,
        )  # fmt: skip
        panel.set(xlabel="seconds", title=title)
    axes[0].set(ylabel="degC", ylim=(845.0, 910.0))
    save(figure, folder, "jumps")


def draw_drift(folder: Path) -> None:
    """Show two probes of one place, one of which begins to read less, and when that is told."""
    rng = np.random.default_rng(6)
    hours = 30.0
    hour = np.arange(int(hours * PER_H)) / PER_H
    ware = 320.0 + 28.0 * hour + stoke_ripple(rng, hours, Rhythm("", (6.0, 6.0), 0.08, 0.1, (8.0, 8.0)))[0]
    off = -4.0 * np.maximum(hour - 20.0, 0.0)
    wander = np.cumsum(rng.normal(0.0, 0.4 / np.sqrt(PER_H), len(hour)))
    celsius = np.stack([ware, ware + 3.0 + off + wander], axis=1) + rng.normal(0.0, 0.3, (len(hour), 2))
    told, _ = watched(engine_of(site_of(["back", "back"])), slots_of(celsius), lambda: (0.0,))
    figure, (top, bottom) = panels(2, sharex=True, height=3.5)
    mean = np.stack([np.convolve(c, np.ones(PER_MIN) / PER_MIN, mode="same") for c in celsius.T])
    shown = slice(PER_H, -PER_H, PER_MIN)
    top.plot(hour[shown], mean[0, shown], color="black", linewidth=0.9, label="back-0")
    top.plot(hour[shown], mean[1, shown], color=GOLD, linewidth=0.9, label="back-1")
    top.set(ylabel="degC")
    top.legend(loc="lower right")
    bottom.plot(hour[shown], (mean[0] - mean[1])[shown], color=PURPLE, linewidth=1.0, label="back-1 behind back-0")
    four_hours = DRIFT_C + PAIR_CLIMB_SHARE * 28.0 * 4.0
    four_before = np.interp(hour - 4.0, hour, mean[0] - mean[1])
    bottom.plot(
        hour[5 * PER_H : -PER_H : PER_MIN], (four_before + four_hours)[5 * PER_H : -PER_H : PER_MIN], color=RED,
        linewidth=1.0, linestyle=":", label="what it was 4 h before, and what it may have grown by since",
    )  # fmt: skip
    for finding in told:
        if finding.fault is SensorFault.DRIFT and finding.state is FindingState.BEGIN:
            at = (finding.time - START) / 3600.0
            mark(top, at, f"told: {finding.sensor}")
            mark(bottom, at, "")
    bottom.axvspan(20.0, hours, color=GREY, alpha=0.15, linewidth=0)
    bottom.annotate("loses 4 degC an hour", (20.1, -14.0))
    bottom.set(xlabel="hours", ylabel="degC", xlim=(12.0, 26.0), ylim=(-16.0, 26.0))
    inside = mean[:, 12 * PER_H : 26 * PER_H]
    top.set_ylim(inside.min(), inside.max())
    bottom.legend(loc="upper left")
    save(figure, folder, "drift")
