"""Figures of what is behind and ahead: a forecast with its interval, heat work and the cones it takes down."""

from pathlib import Path

import numpy as np
from figure_kit import BLUE, GOLD, GREEN, GREY, PER_H, PER_MIN, RED, START, engine_of, panels, save, site_of, slots_of

from monitor.engine.limits import BEAT_S
from monitor.engine.outlook import Wanted
from monitor.heat_work.cones import END_60_C, cone_index
from monitor.heat_work.running import new_heat_work, take_up
from tests.bench.firings import Rhythm, stoke_ripple

PLAN_H, PLAN_C = (0.0, 12.0, 20.0, 34.0, 38.0), (20.0, 320.0, 420.0, 1200.0, 1200.0)
NOW_H = 26.0
CONES = ("04", "1", "6", "9", "10")


def draw_forecast(folder: Path) -> None:
    """Show what is expected at one moment of a firing that lags behind its plan, and what came."""
    rng = np.random.default_rng(8)
    hour = np.arange(38 * PER_H) / PER_H
    late = np.interp(hour, [0.0, 8.0, 14.0, 38.0], [0.0, 0.2, 1.2, 2.6]) + 0.15 * np.sin(hour / 1.7)
    celsius = np.interp(hour - late, PLAN_H, PLAN_C)
    celsius = celsius + stoke_ripple(rng, 38.0, Rhythm("", (6.0, 6.0), 0.08, 0.1, (8.0, 8.0)))[0]
    points = ", ".join(f"[{h}, {c}]" for h, c in zip(PLAN_H, PLAN_C, strict=True))
    engine = engine_of(site_of(["middle"], f"[plan]\npoints = [{points}]\n"))
    engine.judge(slots_of(celsius[: int(NOW_H * PER_H), None]))
    now_c = float(celsius[int(NOW_H * PER_H)])
    wanted = np.arange(now_c + 8.0, 1195.0, 6.0)
    asked = []
    for each in wanted.tolist():
        outlook = engine.outlook(Wanted(celsius=each))
        assert outlook is not None
        when = outlook.sensors[0].wanted_at
        assert when is not None
        asked.append([np.nan if at is None else (at - START) / 3600.0 for at in (when.early, when.likely, when.late)])
    early, likely, last = np.array(asked).T
    figure, (axes,) = panels(height=3.2)
    axes.plot(PLAN_H, PLAN_C, color=GREY, linewidth=1.0, linestyle=(0, (4, 2)), label="plan")
    past = hour <= NOW_H
    axes.plot(hour[past][::PER_MIN], celsius[past][::PER_MIN], color="black", label="read so far")
    axes.plot(hour[~past][::PER_MIN], celsius[~past][::PER_MIN], color=GREEN, linewidth=1.0, label="what came")
    known = np.isfinite(early) & np.isfinite(last)
    axes.fill_betweenx(
        wanted[known], early[known], last[known], color=BLUE, alpha=0.2, linewidth=0, label="four cases of five"
    )
    axes.plot(likely, wanted, color=BLUE, label="likely")
    axes.axvline(NOW_H, color=RED, linewidth=1.0, linestyle=":")
    axes.annotate("asked now", (NOW_H, 330.0), xytext=(-4, 0), textcoords="offset points", color=RED, ha="right")
    axes.set(xlabel="hours", ylabel="degC", xlim=(18.0, 38.0), xticks=range(18, 39, 2), ylim=(300.0, 1260.0))
    axes.legend(loc="upper left")
    save(figure, folder, "forecast")


def draw_heat_work(folder: Path) -> None:
    """Show how five cones go down in a climb, a hold below the last ones and a cooling."""
    hour = np.arange(0.0, 14.0, BEAT_S / 3600.0)
    celsius = np.interp(hour, [0.0, 7.6, 11.6, 14.0], [800.0, 1256.0, 1256.0, 1060.0])
    state, index = new_heat_work((1, 1)), [cone_index(name) for name in CONES]
    work = []
    for at, each in zip(START + hour * 3600.0, celsius, strict=True):
        take_up(state, float(at), np.array([[each]]))
        work.append(state.work[0, 0, index].copy())
    done = np.array(work)
    figure, (top, bottom) = panels(2, sharex=True, height=3.7)
    top.plot(hour, celsius, color="black")
    top.set(ylabel="degC", ylim=(790.0, 1330.0), title="60 degC/h, a hold of 4 h, cooling: where each cone is down")
    colors = (GOLD, "#e36414", RED, BLUE, GREY)
    for name, each, color in zip(CONES, done.T, colors, strict=True):
        bottom.plot(hour, each, color=color)
        down = np.flatnonzero(each >= 1.0)
        words = f"cone {name}"
        if len(down):
            top.plot(hour[down[0]], celsius[down[0]], "o", color=color, markersize=5.0)
            end_c = END_60_C[cone_index(name)]
            words += f": {celsius[down[0]]:.0f} degC (60 degC/h: {end_c:.0f})"
            below = celsius[down[0]] < celsius.max()
            offset, side = ((8, -9), "left") if below else ((0, 8), "left" if name == CONES[-1] else "right")
            top.annotate(
                words, (hour[down[0]], celsius[down[0]]), xytext=offset, textcoords="offset points", color=color,
                fontsize=8.0, ha=side,
            )  # fmt: skip
    bottom.axhline(1.0, color="black", linewidth=0.8, linestyle=":")
    bottom.set(xlabel="hours", ylabel="heat work of each", ylim=(0.0, 1.3), xlim=(2.0, 14.0))
    save(figure, folder, "heat-work")
