"""A run: a firing from where it begins to where it ends, as numbered scans, with its truth for who wants it.

First the lead-in, as a rule one scan per 10 s of kiln time, so that a chart has a past; then live scans, one a second.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from monitor.model import Scan
from simulator.crew.deeds import Crew
from simulator.firing import FINE_S, Firing, Trace
from simulator.node import Node, boot_of
from simulator.script.scenarios import Scenario
from simulator.spec.kiln_file import KilnSpec

LEAD_IN_EVERY_S = 10
LIVE_EVERY_S = 1
LEAD_IN_BLOCK_S = 600


@dataclass(frozen=True, slots=True)
class Course:
    """When a run happens: lit at epoch second `lit`, live `live_s` later, with `lead_in_s` of past sent before.

    `duration_s` is how long it goes on live, None for without end; scans of the past are `past_every_s` apart.
    """

    lit: int
    live_s: int
    lead_in_s: int = 0
    duration_s: int | None = None
    past_every_s: int = LEAD_IN_EVERY_S

    @property
    def live_h(self) -> float:
        """Hours from lighting to going live."""
        return self.live_s / 3600.0


def course_of(lit: int, *, live_h: float, lead_in_h: float = 0.0, duration_h: float | None = None) -> Course:
    """Return the course for hours of kiln time, cut to whole fine steps; the past cannot begin before lighting."""
    live_s = _whole_steps(live_h)
    return Course(
        lit=lit,
        live_s=live_s,
        lead_in_s=min(_whole_steps(lead_in_h), live_s),
        duration_s=None if duration_h is None else _whole_steps(duration_h),
    )


class Run:
    """One run of `scenario` at the kiln `spec`; building it hurries to where it begins.

    `on_trace` is called with every block of truth before its scans come out. `crew` fires in place of the
    scripted watch.
    """

    def __init__(
        self,
        spec: KilnSpec,
        scenario: Scenario,
        course: Course,
        *,
        seed: int,
        on_trace: Callable[[Trace], None] | None = None,
        crew: Crew | None = None,
    ) -> None:
        self.seed = seed
        self._course = course
        self._on_trace = on_trace
        self.firing = Firing(spec, scenario, seed=seed, lit=course.lit, live_h=course.live_h, crew=crew)
        boot = boot_of(seed, course.lit, course.live_s - course.lead_in_s)
        self._node = Node(spec, self.firing.spells, seed=seed, lit=course.lit, boot=boot)
        self.firing.hurry_to(course.live_s - course.lead_in_s)

    def lead_in(self) -> Iterator[Scan]:
        """Yield the scans of the past."""
        yield from self._scans(self._course.live_s, every_s=self._course.past_every_s, block_s=LEAD_IN_BLOCK_S)

    def live(self, block_s: int) -> Iterator[Scan]:
        """Yield the live scans, worked out `block_s` (a multiple of the fine step) ahead at most."""
        duration_s = self._course.duration_s
        if duration_s is not None:
            yield from self._scans(self._course.live_s + duration_s, every_s=LIVE_EVERY_S, block_s=block_s)
            return
        while True:
            yield from self._scans(self.firing.clock_s + block_s, every_s=LIVE_EVERY_S, block_s=block_s)

    def _scans(self, until_s: int, *, every_s: int, block_s: int) -> Iterator[Scan]:
        while self.firing.clock_s < until_s:
            trace = self.firing.run(min(block_s, until_s - self.firing.clock_s) // FINE_S)
            if self._on_trace is not None:
                self._on_trace(trace)
            yield from self._node.scans(self._node.read(trace, every_s))


def _whole_steps(hours: float) -> int:
    return round(hours * 3600.0 / FINE_S) * FINE_S
