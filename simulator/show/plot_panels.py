"""The three panels of a plot: heat, what was true, and air with embers. Hours from lighting run along all of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from monitor.model import FindingKind, FloatArray
from simulator.show.plot_look import (
    CLEAR_OF_AIR,
    EMBERS,
    FAINT,
    FRONT_STOKE,
    HIGHEST_RATIO,
    INK,
    KINDS,
    PLACES,
    STYLES,
)
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.falls import CHAMBER
from simulator.truth.stokes import Door
from simulator.truth.whole import Truth

if TYPE_CHECKING:
    from matplotlib.axes import Axes


TICKS_H = (0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0)
MOST_TICKS = 18


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """What is drawn: what a service read, degC (n, S) at `hour` (n,), and what was true."""

    spec: KilnSpec
    hour: FloatArray
    read_c: FloatArray
    truth: Truth

    def colour(self, zone: str) -> str:
        """Return the colour of the zone called `zone`."""
        return PLACES[self.spec.zones[self.spec.zone_index(zone)].place]


def set_hours(axes: "Axes", picture: Picture) -> None:
    """Show the hours that are drawn, with ticks that people count in."""
    begin_h, end_h = picture.truth.minutes.begin_h, picture.truth.minutes.end_h
    tick_h = next((t for t in TICKS_H if (end_h - begin_h) / t <= MOST_TICKS), TICKS_H[-1])
    axes.set_xticks(np.arange(np.ceil(begin_h / tick_h), end_h / tick_h + 1e-9) * tick_h)
    axes.set_xlim(begin_h, end_h)
    axes.set_xlabel("hours from lighting")


def draw_heat(axes: "Axes", picture: Picture) -> None:
    """Draw sensors, ware and plan, the spans of the fire shaded and the stages named."""
    _draw_sensors(axes, picture)
    _draw_ware_and_plan(axes, picture)
    _shade_spans(axes, picture)
    axes.set_ylim(*_range_c(picture))
    axes.set_ylabel("°C")
    axes.legend(loc="best", ncols=2, fontsize=8)
    _name_stages(axes, picture)


def _draw_sensors(axes: "Axes", picture: Picture) -> None:
    seen: dict[str, int] = {}
    for i, sensor in enumerate(picture.spec.sensors):
        colour = picture.colour(sensor.zone)
        style = STYLES[seen.setdefault(colour, 0) % len(STYLES)]
        seen[colour] += 1
        label = f"{sensor.id} ({sensor.type})"
        axes.plot(picture.hour, picture.read_c[:, i], color=colour, ls=style, lw=1.1, label=label)


def _draw_ware_and_plan(axes: "Axes", picture: Picture) -> None:
    minutes, spec = picture.truth.minutes, picture.spec
    for n, zone in enumerate(spec.zones):
        if zone.place in CHAMBER:
            ware_c = minutes.ware_c[:, n]
            axes.plot(minutes.hour, ware_c, color=PLACES[zone.place], lw=3.2, alpha=0.28, label=f"ware, {zone.name}")
    hours, celsius = np.array(spec.points).T
    axes.plot(hours, celsius, color=INK, lw=1.0, ls=(0, (1, 2)), label=f"plan for {spec.guide}")


def _shade_spans(axes: "Axes", picture: Picture) -> None:
    for kind in KINDS:
        spans = picture.truth.of(kind) if kind is not FindingKind.SENSOR else ()
        for k, span in enumerate(spans):
            label = str(kind) if k == 0 else "_"  # a name that begins so is left out of the legend
            axes.axvspan(span.begin_h, span.end_h, color=KINDS[kind], alpha=0.15, lw=0.0, label=label)


def _range_c(picture: Picture) -> tuple[float, float]:
    """Return a range that holds what is true; what a lying sensor reads may lie outside."""
    true_c = np.concatenate([picture.truth.minutes.ware_c[:, :-1], picture.truth.minutes.junction_c], axis=1)
    low, high = float(true_c.min()), float(true_c.max())
    room = 0.06 * max(high - low, 50.0)
    return low - room, high + 1.5 * room


def _name_stages(axes: "Axes", picture: Picture) -> None:
    minutes = picture.truth.minutes
    last_h = minutes.end_h
    for stage in reversed(picture.spec.stages):
        begin_h = max(stage.begin_h, minutes.begin_h)
        if begin_h >= last_h:
            continue
        if stage.begin_h > minutes.begin_h:
            axes.axvline(stage.begin_h, color=FAINT, lw=0.9)
        every = "closed up" if stage.interval_min == 0.0 else f"every {stage.interval_min:g} min"
        width = (last_h - begin_h) / (minutes.end_h - minutes.begin_h)
        if width > 0.03:
            axes.text(
                begin_h,
                1.01,
                f"{stage.name}\n{every if width > 0.06 else ''}",
                transform=axes.get_xaxis_transform(),
                fontsize=8,
                va="bottom",
                color=INK,
            )
        last_h = begin_h


def draw_true(axes: "Axes", picture: Picture) -> None:
    """Draw a lane each for front stokes, side stokes, every kind of span and every pack of cones."""
    lanes = [("front stokes", FRONT_STOKE), ("side stokes", INK)]
    lanes += [("sensor fault" if kind is FindingKind.SENSOR else str(kind), colour) for kind, colour in KINDS.items()]
    lanes += [(f"cones, {pack.zone}", picture.colour(pack.zone)) for pack in picture.spec.cones]
    _draw_stokes(axes, picture)
    for lane, kind in enumerate(KINDS, start=2):
        _draw_spans(axes, picture, kind, lane)
    for lane, pack in enumerate(picture.spec.cones, start=2 + len(KINDS)):
        _draw_cones(axes, picture, pack.zone, lane)
    axes.set_ylim(len(lanes) - 0.5, -0.5)
    axes.set_yticks(range(len(lanes)), [name for name, _ in lanes], fontsize=8)
    for label, (_, colour) in zip(axes.get_yticklabels(), lanes, strict=True):
        label.set_color(colour)
    axes.tick_params(axis="y", length=0)


def _draw_stokes(axes: "Axes", picture: Picture) -> None:
    front = [s.hour for s in picture.truth.stokes if s.door is Door.FRONT]
    axes.vlines(front, -0.38, 0.38, color=FRONT_STOKE, lw=0.55)
    sides = [s for s in picture.truth.stokes if s.door is Door.SIDE]
    axes.vlines([s.hour for s in sides], 0.62, 1.38, colors=[picture.colour(s.zone) for s in sides], lw=0.8)


def _draw_spans(axes: "Axes", picture: Picture, kind: FindingKind, lane: int) -> None:
    least_h = 0.002 * (picture.truth.minutes.end_h - picture.truth.minutes.begin_h)
    for span in picture.truth.of(kind):
        width_h = max(span.end_h - span.begin_h, least_h)
        axes.broken_barh([(span.begin_h, width_h)], (lane - 0.33, 0.66), color=KINDS[kind], alpha=0.75, lw=0.0)
    for k, (hour, words) in enumerate(_labels(picture, kind)):
        up = 0.0 if kind is FindingKind.RHYTHM else 0.17 * (-1) ** k
        axes.text(hour, lane - up, f" {words}", fontsize=6.5, va="center", ha="left", color=INK, clip_on=True)


def _labels(picture: Picture, kind: FindingKind) -> Sequence[tuple[float, str]]:
    """Return what is written beside spans: how far off a rhythm was, and which sensors failed how."""
    spans = picture.truth.of(kind)
    if kind is FindingKind.RHYTHM:
        return [(s.end_h, f"x{s.ratio:.2f}") for s in spans]
    if kind is not FindingKind.SENSOR:
        return []
    failed: dict[tuple[float, float, str], list[str]] = {}
    for span in spans:
        failed.setdefault((span.begin_h, span.end_h, str(span.fault)), []).append(str(span.sensor))
    everybody = len(picture.spec.sensors)
    return [(at[0], f"{'all' if len(ids) == everybody else ', '.join(ids)} {at[2]}") for at, ids in failed.items()]


def _draw_cones(axes: "Axes", picture: Picture, zone: str, lane: int) -> None:
    """Draw a line from where each cone began to bend to its number, which stands where it was down."""
    colour, minutes = picture.colour(zone), picture.truth.minutes
    room_h = 0.013 * (minutes.end_h - minutes.begin_h)
    free_h = minutes.begin_h
    for cone in picture.truth.cones:
        if cone.zone != zone or cone.bends_h is None or cone.bends_h > minutes.end_h:
            continue
        down_h = minutes.end_h + room_h if cone.down_h is None else cone.down_h
        axes.hlines(lane + 0.3, cone.bends_h, down_h, color=colour, lw=1.6, alpha=0.6)
        if minutes.begin_h < down_h < minutes.end_h:
            at_h = max(down_h, free_h)
            axes.text(at_h, lane, cone.number, fontsize=7.5, va="center", ha="center", color=colour, clip_on=True)
            free_h = at_h + room_h


def draw_air(axes: "Axes", picture: Picture) -> None:
    """Draw the excess-air ratio of firebox and chamber, below 1 filled, and the ember bed behind it."""
    minutes, spec = picture.truth.minutes, picture.spec
    ratio = np.minimum(picture.truth.excess_air, 2.0 * HIGHEST_RATIO)
    for n, zone in enumerate(spec.zones):
        if zone.place not in ("flue", "chimney"):
            axes.plot(minutes.hour, ratio[:, n], color=PLACES[zone.place], lw=1.0, label=zone.name)
    least = ratio.min(axis=1)
    colour = KINDS[FindingKind.REDUCTION]
    axes.fill_between(minutes.hour, least, CLEAR_OF_AIR, where=least < CLEAR_OF_AIR, color=colour, alpha=0.3, lw=0.0)
    axes.axhline(CLEAR_OF_AIR, color=INK, lw=0.8)
    axes.set_ylim(0.0, HIGHEST_RATIO)
    axes.set_ylabel("excess air")
    axes.legend(loc="lower left", ncols=6, fontsize=8)
    _draw_embers(axes, picture)


def _draw_embers(axes: "Axes", picture: Picture) -> None:
    minutes = picture.truth.minutes
    kilograms = axes.twinx()
    kilograms.grid(visible=False)
    kilograms.fill_between(minutes.hour, minutes.embers_kg, color=EMBERS, alpha=0.25, lw=0.0)
    kilograms.plot(minutes.hour, minutes.embers_kg, color=EMBERS, lw=0.9)
    kilograms.set_ylim(0.0, 1.25 * max(float(minutes.embers_kg.max()), 1.0))
    kilograms.set_ylabel("embers, kg", color=EMBERS)
    kilograms.tick_params(axis="y", colors=EMBERS)
    axes.set_zorder(kilograms.get_zorder() + 1)
    axes.patch.set_visible(False)
