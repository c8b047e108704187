"""Air: the chimney's pull and how the openings share it.

Draught is the stack effect, openings are sharp-edged orifices in series (inlets, then damper) and in parallel
(under the grate, above it, the stoke door). Handbook form; the chimney gas is taken as air.
"""

import math
from dataclasses import dataclass

STACK_CONSTANT_K_M = 0.034163
"""g M / R of air, kelvin per metre (handbooks print 0.0342)."""
PRESSURE_PA = 101325.0
DISCHARGE = 0.6
"""Discharge coefficient of a sharp-edged orifice (handbook value, from memory)."""
AIR_KG_K_M3 = 353.0
"""Density of air times its temperature at 101325 Pa, kg K/m3."""
STILL_AIR_PA = 1.5
"""Pull of wind and of the fire's own hot gas when the chimney is cold (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Openings:
    """Free areas in square metres: under the grate, above it (with the leaks there), stoke door, damper."""

    primary_m2: float
    secondary_m2: float
    door_m2: float
    damper_m2: float


@dataclass(frozen=True, slots=True)
class Airflow:
    """Air into the firebox in kg/s: through the ember bed, and above it."""

    primary_kg_s: float
    above_kg_s: float

    @property
    def total_kg_s(self) -> float:
        """All air into the firebox, kg/s."""
        return self.primary_kg_s + self.above_kg_s


def draught_pa(height_m: float, inside_k: float, outside_k: float) -> float:
    """Return the stack effect in Pa of a chimney `height_m` high (Babcock and Wilcox, Steam, formula 24)."""
    return STACK_CONSTANT_K_M * PRESSURE_PA * height_m * (1.0 / outside_k - 1.0 / inside_k)


def share_air(openings: Openings, *, pull_pa: float, outside_k: float, chimney_k: float) -> Airflow:
    """Return the air that `pull_pa` draws through `openings`; gas of `chimney_k` passes the damper."""
    inlet_m2 = openings.primary_m2 + openings.secondary_m2 + openings.door_m2
    inlet = _kg_s_per_root_pa(inlet_m2, outside_k)
    damper = _kg_s_per_root_pa(openings.damper_m2, chimney_k)
    total = math.sqrt(max(pull_pa, STILL_AIR_PA) / (inlet**-2 + damper**-2))
    primary = total * openings.primary_m2 / inlet_m2
    return Airflow(primary_kg_s=primary, above_kg_s=total - primary)


def inlet_m2_for(air_kg_s: float, *, damper_m2: float, pull_pa: float, outside_k: float, chimney_k: float) -> float:
    """Return the inlet area that lets `air_kg_s` in, infinite where the damper alone lets less through."""
    damper = _kg_s_per_root_pa(damper_m2, chimney_k)
    rest = max(pull_pa, STILL_AIR_PA) / air_kg_s**2 - damper**-2
    return rest**-0.5 / _kg_s_per_root_pa(1.0, outside_k) if rest > 0.0 else math.inf


def _kg_s_per_root_pa(area_m2: float, gas_k: float) -> float:
    return DISCHARGE * area_m2 * math.sqrt(2.0 * AIR_KG_K_M3 / gas_k)
