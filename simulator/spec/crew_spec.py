"""How a kiln's crew means to fire it: stages of the firing, what it knows of its kiln, and who is on watch when."""

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from simulator.spec.kiln_parts import Name, NotNegative, Positive, Share

Moist = Annotated[float, Meta(ge=0.0, lt=1.0)]
DayHour = Annotated[float, Meta(ge=0.0, lt=24.0)]
Pieces = Annotated[int, Meta(ge=1)]
Curve = Annotated[tuple[tuple[float, Positive], ...], Meta(min_length=2)]


@dataclass(frozen=True, slots=True)
class SideSpec:
    """Side stoking in a stage, once the guide says `from_c`: every `every_min` the next of `ports` (names of zones).

    A port gets `pieces` (fewest, most) pieces of `piece_kg` wet wood, `wood_mm` thick, and stands open for `open_s`.
    """

    from_c: float
    every_min: Positive
    ports: Annotated[tuple[Name, ...], Meta(min_length=1)]
    pieces: tuple[Pieces, Pieces]
    piece_kg: Positive
    wood_mm: Positive
    open_s: Positive

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

    name: Name
    begin_h: NotNegative
    start_h: NotNegative
    interval_min: NotNegative
    door_s: NotNegative
    excess_air: NotNegative
    air_below: Share
    damper: Share
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
    from_hour: DayHour
    rhythm_scatter: NotNegative
    armful_scatter: NotNegative
    armful: Positive
    dawn_late: Positive
    rakes_at: Positive
    in_two: Share
    looks_per_h: Positive
    favours_lagging: bool


@dataclass(frozen=True, slots=True)
class CrewSpec:
    """What the crew knows of this kiln and who they are.

    Wood it takes in kg/h over degC at the guide, kg/h more for each degC/h of climb; its moisture (share of the wet
    wood); short wood `short_mm` thick until the guide says `long_from_c`, then long wood `long_mm` thick.
    """

    wood_kg_h: Curve
    kg_h_per_climb: NotNegative
    moisture: Moist
    short_mm: Positive
    long_mm: Positive
    long_from_c: float
    watches: Annotated[tuple[WatchSpec, ...], Meta(min_length=1)]
