"""How a kiln's crew means to fire it: stages of the firing, what it knows of its kiln, and who is on watch when."""

from dataclasses import dataclass
from typing import Any

from simulator.pairs import number_pairs


@dataclass(frozen=True, slots=True)
class SideSpec:
    """Side stoking in a stage, once the guide says `from_c`: every `every_min` the next of `ports` (names of zones).

    A port gets `pieces` (fewest, most) pieces of `piece_kg` wet wood, `wood_mm` thick, and stands open for `open_s`.
    """

    from_c: float
    every_min: float
    ports: tuple[str, ...]
    pieces: tuple[int, int]
    piece_kg: float
    wood_mm: float
    open_s: float

    @property
    def mean_kg_h(self) -> float:
        """Wet wood that goes in by the sides, kg/h."""
        return 0.5 * (self.pieces[0] + self.pieces[1]) * self.piece_kg * 60.0 / self.every_min


@dataclass(frozen=True, slots=True)
class StageSpec:
    """How the crew means to fire from `begin_h` on; `start_h` is where a run that starts from this stage goes live.

    Stoke every `interval_min`, the door open for `door_s`, air `excess_air` times the demand, the share `air_below` of
    it under the grate, the damper at `damper` (share of full).
    """

    name: str
    begin_h: float
    start_h: float
    interval_min: float
    door_s: float
    excess_air: float
    air_below: float
    damper: float
    side: SideSpec | None = None

    @property
    def is_closed(self) -> bool:
        """Whether the kiln is closed up and clammed: nobody stokes."""
        return self.interval_min == 0.0


@dataclass(frozen=True, slots=True)
class WatchSpec:
    """The habits of the people on watch from `from_hour` of the day until the next watch comes.

    Standard deviation of the logs of interval and armful; `armful` times the wood that others would throw; intervals
    `dawn_late` times longer before dawn; an ember bed is raked at `rakes_at` of the depth that chokes; the share
    `in_two` of stokes is thrown as two armfuls within a minute; the door is opened for a look `looks_per_h` times an
    hour; whether the zone that lags is side stoked out of turn.
    """

    name: str
    from_hour: float
    rhythm_scatter: float
    armful_scatter: float
    armful: float
    dawn_late: float
    rakes_at: float
    in_two: float
    looks_per_h: float
    favours_lagging: bool


@dataclass(frozen=True, slots=True)
class CrewSpec:
    """What the crew knows of this kiln and who they are.

    Wood it takes in kg/h over degC at the guide, kg/h more for each degC/h of climb; its moisture (share of the wet
    wood); short wood `short_mm` thick until the guide says `long_from_c`, then long wood `long_mm` thick.
    """

    wood_kg_h: tuple[tuple[float, float], ...]
    kg_h_per_climb: float
    moisture: float
    short_mm: float
    long_mm: float
    long_from_c: float
    watches: tuple[WatchSpec, ...]


def stage_of(raw: dict[str, Any]) -> StageSpec:
    """Return the stage that a `[[stage]]` table describes."""
    rest = dict(raw)
    side = rest.pop("side", None)
    return StageSpec(side=None if side is None else _side_of(side), **rest)


def crew_of(raw: dict[str, Any]) -> CrewSpec:
    """Return the crew that a `[crew]` table with its `[[crew.watch]]` tables describes."""
    rest = dict(raw)
    wood = number_pairs(rest.pop("wood_kg_h"))
    return CrewSpec(wood_kg_h=wood, watches=tuple(WatchSpec(**w) for w in rest.pop("watch")), **rest)


def _side_of(raw: dict[str, Any]) -> SideSpec:
    rest = dict(raw)
    fewest, most = rest.pop("pieces")
    return SideSpec(ports=tuple(rest.pop("ports")), pieces=(fewest, most), **rest)
