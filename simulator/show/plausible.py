"""Is a kiln like kilns are? A table of what a good firing of it shows beside what is expected, and where from.

Every line is value, expected range, source and whether it is in range. Facts of the trade without a printed source are
called common practice.
"""

import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from monitor.model import FloatArray
from simulator.crew.deeds import DeedKind
from simulator.show.observed import Observed, observe
from simulator.spec.kiln_file import kiln_names, load_kiln
from simulator.truth.falls import true_falls
from simulator.truth.minutes import minute_means
from simulator.truth.stalls import true_stalls

PRACTICE = "common practice, no source"
MODEL = "measured on an independent kiln model"
TWICE = f"{MODEL}, within a factor of two"
"""A side stoke moved its own zone's thermocouple by 2 to 3 degC, the next one's by 0 to 0.7, a front stoke that of the
front chamber by 0.7."""
FINDINGS = "as findings define it"
LONG_FIRING_H = 80.0
"""A firing planned to be longer is one of about two days of small fire and two of climb."""


@dataclass(frozen=True, slots=True)
class Row:
    """One check: `value` against `low` to `high`; `spread` is the 10th and 90th percentile where there are many."""

    kiln: str
    what: str
    value: float
    low: float
    high: float
    unit: str
    source: str
    spread: tuple[float, float] | None = None

    @property
    def is_in_range(self) -> bool:
        """Whether the value is where it is expected; NaN is not."""
        return self.low <= self.value <= self.high

    def text(self) -> str:
        """Return the row as a line."""
        spread = f" ({self.spread[0]:.3g} to {self.spread[1]:.3g})" if self.spread else ""
        verdict = "ok" if self.is_in_range else "NOT"
        value = f"{self.value:.4g}{spread}"
        expected = f"{self.low:g} to {self.high:g}"
        return f"{self.kiln:<11}{self.what:<46}{value:<26}{expected:<16}{self.unit:<8}{verdict:<4}{self.source}"


def plausibility_table(kilns: Iterable[str], *, seed: int = 1) -> Iterator[Row]:
    """Fire each of `kilns` (names) once in the scenario `steady` and yield its rows."""
    for name in kilns:
        yield from rows_of(name, observe(load_kiln(name), seed))


def rows_of(kiln: str, seen: Observed) -> list[Row]:
    """Return the rows of one firing."""
    parts: tuple[Callable[[Observed], list[Row]], ...] = (_course, _wood, _stokes, _dips, _heat)
    rows = [row for part in parts for row in part(seen)]
    return [Row(kiln, *(getattr(r, f) for f in Row.__slots__ if f != "kiln")) for r in rows]


def main(kilns: Iterable[str] | None = None, *, seed: int = 1) -> int:
    """Print the table for `kilns`, by default all there are; return 0 if all is in range, else 1."""
    is_fine = True
    for row in plausibility_table(kilns or kiln_names(), seed=seed):
        print(row.text(), flush=True)
        is_fine = is_fine and row.is_in_range
    return 0 if is_fine else 1


def _row(what: str, value: float, low: float, high: float, unit: str, source: str = PRACTICE) -> Row:
    return Row("", what, value, low, high, unit, source)


def _many(what: str, values: FloatArray, low: float, high: float, unit: str, source: str = PRACTICE) -> Row:
    """Return a row of the median of `values` with their spread."""
    ends = np.percentile(values, [10.0, 50.0, 90.0]) if len(values) else np.full(3, np.nan)
    return Row("", what, float(ends[1]), low, high, unit, source, (float(ends[0]), float(ends[2])))


def _fahrenheit(celsius: float) -> float:
    return 32.0 + 1.8 * celsius


def _course(seen: Observed) -> list[Row]:
    spec, preheat_h = seen.spec, seen.reached_h(300.0)
    is_long = spec.points[-1][0] > LONG_FIRING_H
    planned_h = float(np.interp(300.0, *np.array(spec.points)[:, ::-1].T))
    top_h = spec.points[-1][0]
    minutes = minute_means(seen.trace)
    climb = seen.climbs_c_h()
    preheat = (40.0, 56.0) if is_long else (0.9 * planned_h, 1.1 * planned_h)
    climb_h = (32.0, 56.0) if is_long else (16.0, 56.0)
    why = f"{PRACTICE}: about two days" if is_long else "its plan"
    return [
        _row("small fire to 300 degC", preheat_h, *preheat, "h", why),
        _row("from there to the end", top_h - preheat_h, *climb_h, "h", why if is_long else PRACTICE),
        _many("climb over each hour", climb, 20.0, 80.0, "degC/h"),
        _row("quickest hour", float(climb.max()), 20.0, 80.0, "degC/h"),
        _row("top at the guide", _fahrenheit(float(seen.guide_c.max())), 2300.0, 2400.0, "degF"),
        _row("falls in a good firing, reduction apart", float(_falls(seen)), 0.0, 1.0, "", FINDINGS),
        _row("stalls in a good firing", float(len(true_stalls(spec, minutes))), 0.0, 0.0, "", FINDINGS),
        _row("air over demand in the climb", seen.excess_air("climb"), 1.2, 2.5, ""),
        _row("air over demand in reduction", seen.excess_air("reduction"), 0.7, 0.97, ""),
        _row("air over demand in high fire", seen.excess_air("high-fire"), 1.05, 1.6, ""),
    ]


def _falls(seen: Observed) -> int:
    """Return how many falls there are but for those in the reduction: a front that dips then is a sign of it."""
    falls = true_falls(seen.spec, minute_means(seen.trace))
    return sum(seen.spec.stage_at(f.end_h).name != "reduction" for f in falls)


def _wood(seen: Observed) -> list[Row]:
    spec = seen.spec
    stokes = seen.deeds(DeedKind.FRONT_STOKE) + seen.deeds(DeedKind.SIDE_STOKE)
    wood_kg = sum(d.amount for d in stokes)
    long_f = _fahrenheit(float(np.interp(seen.long_wood_h, seen.look_h, seen.guide_c)))
    pieces = [
        d.amount / side.piece_kg
        for d in seen.deeds(DeedKind.SIDE_STOKE)
        if (side := spec.stage_at(d.hour).side) is not None
    ]
    bed = float(seen.trace.embers_kg[-1])
    return [
        _row("long thin wood from", long_f, 1560.0, 1640.0, "degF"),
        _many("thin pieces a side stoke", np.array(pieces), 2.0, 3.0, ""),
        _row("wood in all", wood_kg, 150.0, 4000.0, "kg"),
        _row("wood for each m3 of chamber", wood_kg / spec.chamber_m3, 200.0, 800.0, "kg/m3"),
        _row("ember bed at the end, of what is shallow", bed / spec.air.bed_shallow_kg, 1.0, 3.0, ""),
        _row("ember bed at the end, of what chokes", bed / spec.air.bed_deep_kg, 0.3, 1.0, ""),
    ]


def _stokes(seen: Observed) -> list[Row]:
    rows = []
    for stage in seen.spec.stages:
        if not stage.is_closed:
            intervals = np.diff(seen.front_stokes_h(stage.name)) * 60.0
            near = (0.93 * stage.interval_min, 1.07 * stage.interval_min)
            rows.append(_many(f"front-stoke interval, {stage.name}", intervals, *near, "min", "as the crew intends"))
    return rows


DIPS = (
    ("firebox", "preheat", 2.0, 8.0),
    ("firebox", "climb", 4.0, 16.0),
    ("firebox", "high-fire", 1.0, 12.0),
    ("front", "high-fire", 0.35, 1.4),
)
"""Place, stage and how far its thermocouple falls within a minute of a front stoke, degC."""


def _dips(seen: Observed) -> list[Row]:
    rows = []
    for place, stage, low, high in DIPS:
        dips = seen.dips_c(place, stage)
        if len(dips):
            source = TWICE if place == "front" else MODEL
            rows.append(_many(f"{place} falls after a front stoke, {stage}", dips, low, high, "degC", source))
    if len(seen.own_move_c):
        rows.append(_many("side stoke moves its own zone by", seen.own_move_c, 1.0, 6.0, "degC", TWICE))
    if len(seen.next_move_c):
        rows.append(_many("side stoke moves the next zone by", seen.next_move_c, 0.0, 1.4, "degC", TWICE))
    return rows


def _heat(seen: Observed) -> list[Row]:
    spec, state = seen.spec, seen.firing.kiln.state
    ledger = state.ledger
    chamber = [n for n, z in enumerate(spec.zones) if z.place in ("front", "middle", "back")]
    hot = seen.trace.ware_c[seen.rows_of("high-fire")]
    ware_j = sum(
        spec.zones[n].ware_kg * spec.zones[n].ware_j_kgk * (float(state.ware_c[n]) - spec.shed_c) for n in chamber
    )
    return [
        _row("firebox over back in high fire", float(np.mean(hot[:, 0] - hot[:, chamber[-1]])), 0.0, 200.0, "degC"),
        _row("back behind front at the end", float(hot[-1, chamber[0]] - hot[-1, chamber[-1]]), -20.0, 80.0, "degC"),
        _row("wood's heat up the chimney", 100.0 * ledger.chimney_j / ledger.wood_j, 30.0, 65.0, "%"),
        _row("wood's heat unburnt", 100.0 * ledger.unburnt_j / ledger.wood_j, 0.2, 10.0, "%"),
        _row("wood's heat in the ware at the top", 100.0 * ware_j / ledger.wood_j, 3.0, 25.0, "%"),
    ]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:] or None))
