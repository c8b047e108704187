"""How much wood a watch thinks right.

It knows from earlier firings how much wood the kiln takes at each heat and each climb, and corrects that by what the
guiding sensor says against the plan: at once by the gap, slowly by a gap that stands, a little by the climb. It comes
round to another armful only over half an hour.
"""

import numpy as np

from simulator.spec.crew_spec import CrewSpec

GAP_SCALE_C = 80.0
"""Gap to the plan that makes the watch throw e times the wood, before it is bounded."""
PATIENCE_H = 6.0
"""Hours over which a standing gap is answered with as much again."""
CLIMB_SCALE_C_H = 200.0
"""The same for the climb, degC/h."""
GAP_BOUND, CLIMB_BOUND = 0.4, 0.1
"""Most that either does to the log of the wood."""
LOOK_BACK_H = 1.0
"""How far back the watch looks to judge the climb."""
LOOK_AHEAD_H = 0.25
HABIT_H = 0.4
"""Hours in which a watch comes round to another armful."""
TOLD_AT_HANDOVER = 0.8
"""Share of what a watch has learnt about this firing's wood that it passes on (common practice, no source)."""


class Judgement:
    """What the crew makes of the guide; `points` are the plan's (hours, degC)."""

    def __init__(self, crew: CrewSpec, points: tuple[tuple[float, float], ...]) -> None:
        self._plan_h, self._plan_c = np.array(points).T
        self._heat_c, self._wood_kg_h = np.array(crew.wood_kg_h).T
        self._kg_h_per_climb = crew.kg_h_per_climb
        self._lean = 0.0
        self._rate_kg_h = 0.0
        self._looks: list[tuple[float, float]] = []

    def hand_over(self) -> None:
        """Pass on to the next watch what was learnt, less what is forgotten."""
        self._lean *= TOLD_AT_HANDOVER

    def wood_kg_h(self, hour: float, guide_c: float, *, stubborn: bool = False) -> float:
        """Return the wet wood that seems right, in kg/h, and remember the look; a stubborn watch changes nothing."""
        plan_c = float(np.interp(hour, self._plan_h, self._plan_c))
        ahead_c = float(np.interp(hour + LOOK_AHEAD_H, self._plan_h, self._plan_c))
        wanted_c_h = (ahead_c - plan_c) / LOOK_AHEAD_H
        base = float(np.interp(guide_c, self._heat_c, self._wood_kg_h)) + self._kg_h_per_climb * wanted_c_h
        gap = float(np.clip((plan_c - guide_c) / GAP_SCALE_C, -GAP_BOUND, GAP_BOUND))
        since_h = hour - self._looks[-1][0] if self._looks else 0.0
        self._lean = float(np.clip(self._lean + gap * since_h / PATIENCE_H, -0.7, 0.5))
        pace = float(
            np.clip((wanted_c_h - self._climb_c_h(hour, guide_c)) / CLIMB_SCALE_C_H, -CLIMB_BOUND, CLIMB_BOUND)
        )
        right_kg_h = base * float(np.exp(gap + self._lean + pace))
        keeps = float(np.exp(-since_h / HABIT_H)) if self._rate_kg_h > 0.0 else 0.0
        if stubborn:
            keeps = 1.0
        self._rate_kg_h = keeps * self._rate_kg_h + (1.0 - keeps) * right_kg_h
        return self._rate_kg_h

    def _climb_c_h(self, hour: float, guide_c: float) -> float:
        self._looks.append((hour, guide_c))
        while len(self._looks) > 2 and hour - self._looks[1][0] >= LOOK_BACK_H:
            self._looks.pop(0)
        then_h, then_c = self._looks[0]
        return (guide_c - then_c) / (hour - then_h) if hour - then_h > 0.05 else 0.0
