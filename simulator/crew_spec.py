"""How a kiln's crew means to fire it: stages of the firing and what it knows of its kiln."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class StageSpec:
    """How the crew means to fire from `begin_h` on; `start_h` is where a run that starts from this stage goes live.

    Stoke every `interval_min`, the door open for `door_s`, wood `wood_mm` thick, air `excess_air` times the demand.
    """

    name: str
    begin_h: float
    start_h: float
    interval_min: float
    door_s: float
    wood_mm: float
    excess_air: float


@dataclass(frozen=True, slots=True)
class CrewSpec:
    """What the crew knows of this kiln: wood it takes in kg/h over degC at the guide, moisture, full-air flow."""

    wood_kg_h: tuple[tuple[float, float], ...]
    kg_h_per_climb: float
    moisture: float
