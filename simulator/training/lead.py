"""What the lead wants at this hour: the stage, the rhythm, the climb of the plan and a usual armful."""

import numpy as np

from monitor.wire.practice import Lead
from simulator.crew.judgement import Judgement
from simulator.spec.crew_spec import SideSpec, StageSpec
from simulator.spec.kiln_file import KilnSpec

LOOK_EVERY_H = 1.0 / 60.0
IDLE_INTERVAL_MIN = 10.0
"""Interval that an armful is reckoned for where the lead wants no stoking."""
SIDE = SideSpec(from_c=0.0, every_min=0.0, ports=(), pieces=(3, 3), piece_kg=0.6, wood_mm=25.0, open_s=12.0)
"""A side stoke where the lead wants none: three thin pieces (common practice, no source)."""


class LeadWord:
    """The lead, who follows the guide once a minute and knows how much wood is right."""

    def __init__(self, spec: KilnSpec) -> None:
        self._spec = spec
        self._judgement = Judgement(spec.crew, spec.points)
        self._plan_h, self._plan_c = np.array(spec.points).T
        self._looked_h = -np.inf
        self._rate_kg_h = 0.0
        self._guide_c = 0.0
        self.stage: StageSpec = spec.stages[0]

    def look(self, hour: float, guide_c: float) -> None:
        """Take note of the hour from lighting and of degC at the guide."""
        self.stage, self._guide_c = self._spec.stage_at(hour), guide_c
        if hour - self._looked_h >= LOOK_EVERY_H:
            self._looked_h = hour
            self._rate_kg_h = self._judgement.wood_kg_h(hour, guide_c)

    @property
    def usual_kg(self) -> float:
        """Wet wood of a usual armful, kg."""
        return self._rate_kg_h * (self.stage.interval_min or IDLE_INTERVAL_MIN) / 60.0

    @property
    def wood_m(self) -> float:
        """Thickness of the wood that lies ready at this heat, m."""
        crew = self._spec.crew
        return (crew.long_mm if self._guide_c >= crew.long_from_c else crew.short_mm) / 1000.0

    @property
    def side(self) -> SideSpec:
        """What a side stoke is now, whether the lead wants it yet or not."""
        return self.stage.side or SIDE

    def word(self) -> Lead:
        """Return what the lead says, rounded as people say it."""
        leg = int(np.clip(np.searchsorted(self._plan_h, self._looked_h, side="right") - 1, 0, len(self._plan_h) - 2))
        rise_c, hours = (float(np.diff(series)[leg]) for series in (self._plan_c, self._plan_h))
        is_over = self._looked_h >= self._plan_h[-1]
        wants_side = self._guide_c >= self.side.from_c
        return Lead(
            stage=self.stage.name,
            interval_min=self.stage.interval_min,
            climb_c_per_h=0.0 if is_over else round(rise_c / hours, 1),
            usual_kg=round(self.usual_kg, 1),
            side_every_min=self.side.every_min if wants_side else 0.0,
            side_ports=self.side.ports if wants_side else (),
        )
