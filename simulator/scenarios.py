"""Named scenarios: a crew script of mishaps over a firing that otherwise follows its plan."""

from dataclasses import dataclass

from simulator.mishaps import Mishap
from simulator.probe_faults import ProbeFault
from simulator.spells import Anchor, Spell


@dataclass(frozen=True, slots=True)
class Scenario:
    """A named firing; `words` say in two lines what happens and what a watch should notice."""

    name: str
    words: str
    spells: tuple[Spell, ...] = ()


class ScenarioError(Exception):
    """No such scenario; says which there are."""


SCENARIOS = (
    Scenario("steady", "A good firing: agreed rhythm, human scatter, no mishap.\nNothing should alarm."),
    Scenario(
        "night-watch",
        "Good rhythm, then the watch dozes off for 25 minutes and the chamber falls; stoking resumes.\n"
        "The demonstration: the doze begins 62 min after the run goes live, from whatever stage.",
        (Spell(Mishap.DOZE, 62 / 60, 0.4, anchor=Anchor.LIVE),),
    ),
    Scenario(
        "sleepy-watch",
        "Before dawn in high fire the stokes come ever later, until two long gaps let the chamber fall.\n"
        "The rhythm slips first; the fall comes with the gaps.",
        (
            Spell(Mishap.LATE, 76.0, 2.0, size=1.4),
            Spell(Mishap.LATE, 78.0, 1.0, size=1.8),
            Spell(Mishap.DOZE, 79.0, 0.5),
            Spell(Mishap.DOZE, 79.9, 0.5),
        ),
    ),
    Scenario(
        "choked",
        "The watch answers a slow climb with ever more wood: embers pile up, take the air away, the kiln stalls.\n"
        "More wood makes it worse; raking and air from below bring it back.",
        (Spell(Mishap.HEAP, 75.0, 4.0, size=2.5),),
    ),
    Scenario(
        "door-ajar",
        "In the climb the stoke door is left more than half open for an hour and a half.\n"
        "Cold air drowns the fire: firebox down, chamber follows, more wood goes for less.",
        (Spell(Mishap.AJAR, 58.0, 1.5, size=0.6),),
    ),
    Scenario(
        "open-probe",
        "A good firing in which the middle probe breaks for two hours in high fire, then makes contact again.\n"
        "The converter says open; the other sensors go on.",
        (Spell(ProbeFault.OPEN, 78.0, 2.0, sensor="middle"),),
    ),
)


def find_scenario(name: str) -> Scenario:
    """Return the scenario called `name`."""
    for scenario in SCENARIOS:
        if scenario.name == name:
            return scenario
    raise ScenarioError(f"no scenario '{name}'; choose one of {', '.join(s.name for s in SCENARIOS)}")
