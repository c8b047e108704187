"""What could be known at best: the definitions of stall and fall applied in hindsight to noiseless junctions.

The definitions speak of ware and gas, which no sensor shows. Read by junctions without noise, and with the future at
hand, they still miss events and see some that were none: a live finding can hardly do better than that.
"""

from dataclasses import replace

import numpy as np
from score import Span

from monitor.model import FindingKind, FloatArray
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.falls import true_falls
from simulator.truth.minutes import Minutes
from simulator.truth.reader import TruthFile
from simulator.truth.spans import TrueSpan
from simulator.truth.stalls import true_stalls


def spans_in_hindsight(truth: TruthFile, spec: KilnSpec) -> dict[str, list[Span]]:
    """Return by kind what the definitions find where each zone's ware and gas are what its junctions show."""
    seen = _as_junctions_show(truth)
    stalls = true_stalls(spec, seen, has_plan=truth.header.plan is not None)
    return {
        FindingKind.STALL.value: _epoch(truth, stalls),
        FindingKind.FALL.value: _epoch(truth, true_falls(spec, seen)),
    }


def _as_junctions_show(truth: TruthFile) -> Minutes:
    table = truth.minutes
    shown_c = np.stack([_shown_c(truth, zone.name) for zone in truth.header.zones], axis=1)
    minutes = Minutes(
        hour=(table.time - truth.header.lit) / 3600.0,
        gas_c=table.gas_c,
        ware_c=table.ware_c,
        junction_c=table.junction_c,
        air_kg_s=table.air_kg_s,
        demand_kg_s=table.demand_kg_s,
        door=table.door,
        ports=table.ports,
        embers_kg=table.embers_kg,
    )
    return replace(minutes, gas_c=shown_c, ware_c=shown_c)


def _shown_c(truth: TruthFile, zone: str) -> FloatArray:
    """Return the mean junction of a zone (m,), NaN where none stands there."""
    own = [n for n, sensor in enumerate(truth.header.sensors) if sensor.zone == zone and sensor.type != "zirconia"]
    if not own:
        return np.full(len(truth.minutes.time), np.nan)
    return np.asarray(truth.minutes.junction_c[:, own].mean(axis=1))


def _epoch(truth: TruthFile, spans: list[TrueSpan]) -> list[Span]:
    lit = truth.header.lit
    return [Span(lit + s.begin_h * 3600.0, lit + s.end_h * 3600.0) for s in spans]
