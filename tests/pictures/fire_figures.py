"""Figures of what the fire does: ripple and climb, their weights, a fall, a stall, a measured reduction."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from figure_kit import (
    BLUE,
    GOLD,
    GREEN,
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
    site_of,
    slots_of,
    watched,
)  # fmt: skip
from matplotlib.axes import Axes

from monitor.engine.climb import SPANS_BEATS, lay_out_bank
from monitor.engine.limits import (
    BEAT_S,
    CLIMB_LAG_MIN,
    FALL_DEPTH_C,
    LEVEL_LAG_MIN,
    REDUCTION_WINDOW_BEATS,
    SLOTS_PER_BEAT,
    STALL_CLIMB_C_PER_H,
    STALL_SHORTFALL_C,
)  # fmt: skip
from monitor.engine.reduction import demand_over_air
from monitor.engine.setup import setup_from_sites
from monitor.model import Finding, FindingKind, FindingState, FloatArray
from monitor.oxygen.nernst import oxygen_share_from_emf
from monitor.oxygen.wood_gas import excess_air_from_oxygen
from tests.bench.firings import Rhythm, smooth_rate, stoke_ripple

USUAL = Rhythm("usual", (5.5, 6.5), 0.08, 0.10, (20.0, 20.0))
NOISE_C = 0.3


def draw_climb(folder: Path) -> None:
    """Show the climb beside least squares, each at the moment it speaks of."""
    rng = np.random.default_rng(7)
    rate, hours = smooth_rate(rng, 8.0), 8.0
    celsius = 900.0 + rate.cumsum() / PER_H + stoke_ripple(rng, hours, USUAL)[0] + rng.normal(0.0, NOISE_C, len(rate))
    engine = engine_of(site_of(["middle"]))

    def look() -> tuple[float, float]:
        climb = engine.climbs()[0]
        return (climb.climb_c_per_h or np.nan, climb.uncertainty_c_per_h or np.nan)

    _, seen = watched(engine, slots_of(celsius[:, None]), look)
    beats = celsius.reshape(-1, SLOTS_PER_BEAT).mean(axis=1)
    at = np.arange(1, len(beats) + 1) * BEAT_S / 3600.0
    line = np.lib.stride_tricks.sliding_window_view(beats, 60) @ _least_squares(60)
    figure, (top, bottom) = panels(2, sharex=True, height=3.9, height_ratios=[2, 3])
    slot_h = np.arange(len(celsius)) / PER_H
    top.plot(slot_h, celsius, color=GREY, linewidth=0.8)
    top.set(ylabel="degC", title="what the sensor reads: 20 degC of ripple, a stoke every 6 min")
    bottom.plot(at[59:] - 0.25, line, color=GOLD, linewidth=1.1, label="least squares over 30 min, 15 min ago")
    moment = at - CLIMB_LAG_MIN / 60.0
    bottom.fill_between(moment, seen[:, 0] - seen[:, 1], seen[:, 0] + seen[:, 1], color=BLUE, alpha=0.2, linewidth=0)
    bottom.plot(moment, seen[:, 0], color=BLUE, label="climb, 8 min ago, give or take its uncertainty")
    bottom.plot(slot_h, rate, color="black", linewidth=1.0, linestyle=(0, (4, 2)), label="true rate of the ware")
    bottom.set(xlabel="hours", ylabel="degC/h", xlim=(3.0, 7.5), ylim=(rate.min() - 20.0, rate.max() + 20.0))
    inside = celsius[3 * PER_H : round(7.5 * PER_H)]
    top.set_ylim(inside.min() - 5.0, inside.max() + 5.0)
    bottom.legend(loc="upper left")
    save(figure, folder, "climb")


def draw_weights(folder: Path) -> None:
    """Show the weights of the climb against those of a straight line, and what each leaves of ripple."""
    bank = lay_out_bank()
    plain = bank.rate[len(SPANS_BEATS) - 1]
    straight = np.zeros(len(plain))
    straight[-60:] = _least_squares(60)
    ago = np.arange(len(plain))[::-1] * BEAT_S / 60.0
    figure, (left, right) = panels(1, 2, height=2.9)
    period = np.linspace(2.0, 15.0, 400)
    wave = np.exp(2j * np.pi * ago[:, None] / period)
    for weights, color, name in ((straight, GOLD, "least squares, 30 min"), (plain, BLUE, "climb, 40 min")):
        left.step(ago, weights, where="mid", color=color, label=name)
        right.plot(period, np.abs(weights @ wave), color=color, label=name)
    left.axhline(0.0, color=GREY, linewidth=0.6)
    left.invert_xaxis()
    left.set(xlabel="minutes ago", ylabel="degC/h for each degC", title="weights of the beats")
    right.axvspan(3.0, 10.0, color=BLUE, alpha=0.08, linewidth=0)
    right.annotate("stokes every 3 to 10 min", (6.5, 0.95), xycoords=("data", "axes fraction"), ha="center", va="top")
    right.set(xlabel="period of the ripple, minutes", ylim=(0.0, 3.0), xlim=(2.0, 15.0))
    right.set(ylabel="degC/h left of 1 degC", title="what they leave of an even ripple")
    left.legend(loc="upper left")
    save(figure, folder, "weights")


def draw_fall(folder: Path) -> None:
    """Show level and highest level around a fall, and when it is told."""
    rng = np.random.default_rng(3)
    minute = np.arange(4 * PER_H) / PER_MIN
    ware = 1100.0 + np.interp(minute, [0.0, 150.0, 175.0, 190.0, 240.0], [0.0, 62.0, 34.0, 34.0, 62.0])
    celsius = ware + 0.5 * stoke_ripple(rng, 4.0, USUAL)[0] + rng.normal(0.0, NOISE_C, len(minute))
    engine = engine_of(site_of(["middle"]))
    told, seen = watched(
        engine, slots_of(celsius[:, None]), lambda: (engine._climb.level[0, 0], engine._fall.levels[0, 0].max())
    )
    at = np.arange(1, len(seen) + 1) * BEAT_S / 60.0
    figure, (axes,) = panels(height=3.1)
    axes.plot(minute, celsius, color=GREY, linewidth=0.7, label="reading")
    axes.plot(at, seen[:, 0], color=BLUE, label=f"level, of {LEVEL_LAG_MIN} min ago")
    axes.plot(at, seen[:, 1], color="black", linewidth=1.0, label="its highest of the last 30 min")
    axes.plot(at, seen[:, 1] - FALL_DEPTH_C, color=RED, linewidth=1.0, linestyle=":", label="10 degC below that")
    _mark_spans(told, FindingKind.FALL, axes)
    axes.set(xlim=(125.0, 235.0), ylim=(1100.0, 1172.0), xlabel="minutes", ylabel="degC")
    axes.legend(loc="lower left")
    save(figure, folder, "fall")


def draw_stall(folder: Path) -> None:
    """Show how the climb's shortfall adds up until a stall is told."""
    rng = np.random.default_rng(4)
    minute = np.arange(7 * PER_H) / PER_MIN
    rate = np.interp(minute, [0.0, 237.0, 243.0, 297.0, 303.0, 420.0], [40.0, 40.0, 0.0, 0.0, 45.0, 45.0])
    celsius = 900.0 + rate.cumsum() / PER_H + 0.5 * stoke_ripple(rng, 7.0, USUAL)[0]
    celsius += rng.normal(0.0, NOISE_C, len(minute))
    engine = engine_of(site_of(["middle"], "[plan]\npoints = [[0, 900], [10, 1300]]\n"))

    def look() -> tuple[float, float, float]:
        climb = engine.climbs()[0]
        shortfall = float(engine._stall.shortfall[0])
        return (climb.climb_c_per_h or np.nan, climb.uncertainty_c_per_h or np.nan, shortfall)

    told, seen = watched(engine, slots_of(celsius[:, None]), look)
    at = np.arange(1, len(seen) + 1) * BEAT_S / 60.0
    figure, (top, bottom) = panels(2, sharex=True, height=3.6, height_ratios=[3, 2])
    for axes in (top, bottom):
        axes.axvspan(240.0, 300.0, color=GREY, alpha=0.18, linewidth=0)
    top.fill_between(at, seen[:, 0] - 2 * seen[:, 1], seen[:, 0] + 2 * seen[:, 1], color=BLUE, alpha=0.2, linewidth=0)
    top.plot(at, seen[:, 0], color=BLUE)
    top.axhline(STALL_CLIMB_C_PER_H, color=RED, linewidth=1.0, linestyle=":")
    top.annotate("5 degC/h", (206.0, STALL_CLIMB_C_PER_H + 1.0), color=RED, fontsize=8.0)
    top.annotate("the ware stands still", (282.0, 28.0), ha="center")
    top.set(ylabel="degC/h", ylim=(-12.0, 62.0), title="climb as told at the time, give or take two uncertainties")
    bottom.plot(at, seen[:, 2], color=PURPLE)
    bottom.axhline(STALL_SHORTFALL_C, color=RED, linewidth=1.0, linestyle=":")
    bottom.set(xlabel="minutes", ylabel="degC", xlim=(205.0, 335.0), title="shortfall below 5 degC/h, added up")
    _mark_spans(told, FindingKind.STALL, top, bottom, words=False)
    begun = [(f.time - START) / 60.0 for f in told if f.kind is FindingKind.STALL and f.state is FindingState.BEGIN]
    for moment in begun:
        bottom.annotate("told", (moment + 1.0, 0.9), xycoords=("data", "axes fraction"), color=RED, va="top")
    save(figure, folder, "stall")


def draw_reduction(folder: Path) -> None:
    """Show demand over air of an oxygen probe slot by slot, its mean, and what is told of it."""
    rng = np.random.default_rng(5)
    minute = np.arange(3 * PER_H) / PER_MIN
    course = np.interp(minute, [0.0, 58.0, 66.0, 116.0, 124.0, 180.0], [0.72, 0.72, 1.15, 1.15, 0.7, 0.7])
    phase = (minute / 6.0 + 0.03 * np.sin(minute / 9.0)) % 1.0
    true = course * (0.62 + 1.05 * np.exp(-2.2 * phase)) * np.exp(rng.normal(0.0, 0.02, len(minute)))
    site = site_of(["middle", "flue"], kinds=["K", "zirconia"])
    celsius = np.stack([1000.0 + minute / 5.0, np.full(len(minute), 1000.0)], axis=1)
    emf = np.stack([40.0e-6 * celsius[:, 0], _emf_of(1.0 / true, 1000.0)], axis=1)
    slots, engine = slots_of(celsius, emf), engine_of(site)
    told, _ = watched(engine, slots, lambda: (0.0,))
    demand = demand_over_air(setup_from_sites([site]), slots)[:, 0, 1]
    n = REDUCTION_WINDOW_BEATS * SLOTS_PER_BEAT
    mean = np.convolve(demand, np.ones(n) / n)[: len(demand)]
    mean[: n - 1] = np.nan
    figure, (axes,) = panels(height=2.9)
    axes.plot(minute, demand, color=GREY, linewidth=0.8, label="demand over air, from the probe")
    axes.plot(minute, mean, color=PURPLE, linewidth=1.8, label="mean of the last 15 min")
    axes.axhline(1.0, color="black", linewidth=0.8, linestyle=":")
    outweighs = minute[np.convolve(true, np.ones(n) / n, mode="same") > 1.0]
    axes.axvspan(outweighs[0], outweighs[-1], color=PURPLE, alpha=0.1, linewidth=0)
    axes.annotate("in truth fuel outweighs air", (outweighs.mean() + 7.0, 0.1), ha="center")
    _mark_spans(told, FindingKind.REDUCTION, axes)
    axes.set(xlabel="minutes", ylabel="demand / air", xlim=(20.0, 170.0), ylim=(0.0, 2.2))
    axes.legend(loc="upper left")
    save(figure, folder, "reduction")


def _least_squares(count: int) -> FloatArray:
    """Return the weights of a straight line's slope through `count` beats, degC/h."""
    x = (np.arange(count) - (count - 1) / 2.0) * BEAT_S / 3600.0
    return np.asarray(x / (x * x).sum())


def _emf_of(ratio: FloatArray, celsius: float) -> FloatArray:
    """Return a cell's emf in volts for excess-air ratios, by bisection of the engine's own way back."""
    low, high = np.full(ratio.shape, -0.01), np.full(ratio.shape, 1.2)
    hot = np.full(ratio.shape, celsius)
    for _ in range(60):
        middle = 0.5 * (low + high)
        lean = excess_air_from_oxygen(oxygen_share_from_emf(middle, hot), hot) > ratio
        low, high = np.where(lean, middle, low), np.where(lean, high, middle)
    return 0.5 * (low + high)


def _mark_spans(told: Sequence[Finding], kind: FindingKind, *shown: Axes, words: bool = True) -> None:
    for finding in (f for f in told if f.kind is kind):
        begins = finding.state is FindingState.BEGIN
        for axes in shown:
            said = ("told" if begins else "told to be over") if words else ""
            mark(axes, (finding.time - START) / 60.0, said, RED if begins else GREEN)
