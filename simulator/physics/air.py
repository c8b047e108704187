"""Air: the chimney's pull and what the openings let in.

Draught is the stack effect; openings are sharp-edged orifices: inlets, doors, ports and leaks in parallel, the damper
in series behind them. Handbook form; the chimney gas is taken as air, and the resistance of the ware is left out: it is
small against that of inlets and damper.
"""

import math

STACK_CONSTANT_K_M = 0.034163
"""g M / R of air, kelvin per metre (handbooks print 0.0342)."""
PRESSURE_PA = 101325.0
DISCHARGE = 0.6
"""Discharge coefficient of a sharp-edged orifice (handbook value, from memory)."""
AIR_KG_K_M3 = 353.0
"""Density of air times its temperature at 101325 Pa, kg K/m3."""
STILL_AIR_PA = 1.5
"""Pull of wind and of the fire's own hot gas when the chimney is cold (common practice, no source)."""


def draught_pa(height_m: float, inside_k: float, outside_k: float) -> float:
    """Return the stack effect in Pa of a chimney `height_m` high (Babcock and Wilcox, Steam, formula 24)."""
    return STACK_CONSTANT_K_M * PRESSURE_PA * height_m * (1.0 / outside_k - 1.0 / inside_k)


def air_through(inlet_m2: float, *, damper_m2: float, pull_pa: float, outside_k: float, chimney_k: float) -> float:
    """Return the air in kg/s that `pull_pa` draws through `inlet_m2`; gas of `chimney_k` passes the damper behind."""
    inlet = _kg_s_per_root_pa(inlet_m2, outside_k)
    damper = _kg_s_per_root_pa(damper_m2, chimney_k)
    return math.sqrt(max(pull_pa, STILL_AIR_PA) / (inlet**-2 + damper**-2))


def inlet_m2_for(air_kg_s: float, *, damper_m2: float, pull_pa: float, outside_k: float, chimney_k: float) -> float:
    """Return the inlet area that lets `air_kg_s` in, infinite where the damper alone lets less through."""
    damper = _kg_s_per_root_pa(damper_m2, chimney_k)
    rest = max(pull_pa, STILL_AIR_PA) / air_kg_s**2 - damper**-2
    return rest**-0.5 / _kg_s_per_root_pa(1.0, outside_k) if rest > 0.0 else math.inf


def _kg_s_per_root_pa(area_m2: float, gas_k: float) -> float:
    return DISCHARGE * area_m2 * math.sqrt(2.0 * AIR_KG_K_M3 / gas_k)
