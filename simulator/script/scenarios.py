"""Named scenarios: a crew script of mishaps and faults over a firing that otherwise follows its plan.

Each names the kiln that it was made for. It may be run at another that has the sensors it names: spells count from
where a run that starts from a stage goes live, whatever the plan.
"""

from dataclasses import dataclass

from simulator.script.line_faults import LineFault
from simulator.script.mishaps import Mishap
from simulator.script.probe_faults import ProbeFault
from simulator.script.spells import Anchor, Spell

FIRING_H = 200.0
"""Longer than any firing."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """A named firing; `words` say in two lines what happens and what a watch should notice."""

    name: str
    words: str
    spells: tuple[Spell, ...] = ()
    kiln: str = "demo"


class ScenarioError(Exception):
    """No such scenario; says which there are."""


GOOD = (
    Scenario("steady", "A good firing: agreed rhythm, human scatter, no mishap.\nNothing should alarm."),
    Scenario(
        "quick-day",
        "A good firing of a small kiln in thirty hours, at twice the climb of others.\n"
        "Nothing should alarm, however fast it goes.",
        kiln="quick",
    ),
    Scenario(
        "long-haul",
        "A good firing of a long kiln with five stacks, side stoked from the back, by four watches.\n"
        "Nothing should stall, however slow the back.",
        kiln="long",
    ),
    Scenario(
        "bare-bones",
        "A good firing judged by two type K probes alone, without one in the firebox.\n"
        "Little can be told; the front may fall for some minutes, as fires do.",
        kiln="two-probes",
    ),
    Scenario(
        "measured-air",
        "A good firing with an oxygen probe and switches at the doors.\n"
        "Reduction is measured when it is wanted, and only then; looks through the door are no stokes.",
        kiln="oxygen",
    ),
    Scenario(
        "strong-draw",
        "A good firing under a chimney of nine metres with the damper far in.\n"
        "Nothing should stall; the front may fall for some minutes, as fires do.",
        kiln="tall",
    ),
)

WATCHES = (
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
            Spell(Mishap.LATE, 0.0, 2.0, size=1.4, stage="high-fire"),
            Spell(Mishap.LATE, 2.0, 1.0, size=1.8, stage="high-fire"),
            Spell(Mishap.DOZE, 3.0, 0.5, stage="high-fire"),
            Spell(Mishap.DOZE, 3.9, 0.5, stage="high-fire"),
        ),
    ),
    Scenario(
        "slow-drift",
        "Over four hours the interval grows by two thirds, so evenly that nobody in the shed sees it.\n"
        "The rhythm has drifted long before the kiln stands still.",
        (Spell(Mishap.DRIFT, 0.0, 4.0, size=1.67, stage="high-fire"),),
        kiln="long",
    ),
    Scenario(
        "hurried-watch",
        "A keen watch stokes every two minutes where three and a half were agreed, each time a full armful.\n"
        "The rhythm is too quick; smoke, a growing bed, and no more climb for the wood.",
        (Spell(Mishap.LATE, 0.0, 2.0, size=0.6, stage="high-fire"),),
        kiln="quick",
    ),
    Scenario(
        "missed-stokes",
        "For five hours of the climb a third of the stokes is missed, one here, two there.\n"
        "Single gaps are no drift; together they are, and the climb flattens.",
        (Spell(Mishap.MISSED, 0.0, 5.0, size=0.33, stage="climb"),),
        kiln="tall",
    ),
)

FIRES = (
    Scenario(
        "choked",
        "With the inlets too low the climb slows; the watch answers with more wood, embers pile up, the kiln stalls.\n"
        "More wood makes it worse; raking and air from below bring it back.",
        (
            Spell(Mishap.HEAP, -1.0, 4.0, size=2.5, stage="high-fire"),
            Spell(Mishap.INLETS, -0.5, 3.5, size=0.07, stage="high-fire"),
        ),
    ),
    Scenario(
        "unraked",
        "Nobody rakes for a day, and the inlets are left as they are while the bed grows over them.\n"
        "The climb needs ever more wood; raking helps within minutes.",
        (
            Spell(Mishap.UNRAKED, -14.0, 24.0, stage="high-fire"),
            Spell(Mishap.HEAP, 0.0, 2.0, size=1.8, stage="high-fire"),
        ),
        kiln="tall",
    ),
    Scenario(
        "wet-wood",
        "For four hours of the climb the wood comes from the bottom of the stack, two fifths of it water.\n"
        "It hisses, the firebox dips deeper at each stoke, the climb flattens.",
        (Spell(Mishap.WET, 0.0, 4.0, size=0.4, stage="climb"),),
        kiln="oxygen",
    ),
    Scenario(
        "thick-wood",
        "In high fire the thin wood is used up and unsplit logs go in for three hours.\n"
        "Each stoke bursts less and lasts longer; the bed takes what the flame lacks.",
        (Spell(Mishap.THICK, 0.0, 3.0, size=2.5, stage="high-fire"),),
        kiln="two-probes",
    ),
    Scenario(
        "sides-left",
        "For three hours of high fire nobody feeds the side ports.\n"
        "Front and firebox run ahead, the back lags ever more.",
        (Spell(Mishap.SIDES_LEFT, 0.0, 3.0, stage="high-fire"),),
        kiln="long",
    ),
    Scenario(
        "heaped-sides",
        "A watch feeds the side ports four times the wood they should get.\n"
        "Smoke at the flue, soot on the ware, zones jump at each turn; the front is starved.",
        (Spell(Mishap.SIDE_HEAP, 0.5, 2.0, size=4.0, stage="high-fire"),),
        kiln="oxygen",
    ),
)

AIRS = (
    Scenario(
        "door-ajar",
        "In the climb the stoke door is left more than half open for an hour and a half.\n"
        "Cold air drowns the fire: firebox down, chamber follows, more wood goes for less.",
        (Spell(Mishap.AJAR, 6.0, 1.5, size=0.6, stage="climb"),),
    ),
    Scenario(
        "port-ajar",
        "A side port at the back is not closed after a stoke, for an hour.\n"
        "The back falls while the front goes on; a strong chimney makes it worse.",
        (Spell(Mishap.PORT_AJAR, 1.0, 1.0, size=1.0, stage="high-fire", zone="back"),),
        kiln="tall",
    ),
    Scenario(
        "damper-in",
        "Somebody knocks the damper nearly shut, and nobody sees it for an hour and a half.\n"
        "Flame out of every crack, no draught, the climb dies with the wood piled in.",
        (Spell(Mishap.DAMPER, 1.0, 1.5, size=0.15, stage="high-fire"),),
    ),
    Scenario(
        "damper-out",
        "The damper of a strongly drawing kiln is pulled right out for two hours.\n"
        "The heat goes up the chimney: the flue rises, the chamber does not.",
        (Spell(Mishap.DAMPER, 0.0, 2.0, size=1.0, stage="high-fire"),),
        kiln="tall",
    ),
    Scenario(
        "shut-inlets",
        "After closing for a look the inlets stay nearly shut for an hour and a half.\n"
        "The fire suffocates under new wood, then flares when they are opened.",
        (Spell(Mishap.INLETS, 1.0, 1.5, size=0.03, stage="high-fire"),),
        kiln="oxygen",
    ),
    Scenario(
        "rich-too-long",
        "The reduction is not ended: air stays short for four more hours of what should be high fire.\n"
        "Much wood for little climb, smoke, and an oxygen probe that stays rich.",
        (Spell(Mishap.ATMOSPHERE, -6.0, 6.0, size=0.62, stage="high-fire"),),
        kiln="oxygen",
    ),
    Scenario(
        "no-reduction",
        "The watch means to reduce and leaves the air too wide all through the stage.\n"
        "It climbs well, and no probe sees a reduction: the pots will tell.",
        (Spell(Mishap.ATMOSPHERE, -1.5, 8.0, size=1.4, stage="reduction"),),
        kiln="oxygen",
    ),
)

PROBES = (
    Scenario(
        "open-probe",
        "A good firing in which the middle probe breaks for two hours in high fire, then makes contact again.\n"
        "The converter says open; the other sensors go on.",
        (Spell(ProbeFault.OPEN, 2.0, 2.0, sensor="middle", stage="high-fire"),),
    ),
    Scenario(
        "loose-wire",
        "The back probe's hot wire makes and breaks contact for three hours of the climb.\n"
        "One fault, not a hundred; the good scans between are kept.",
        (Spell(ProbeFault.HOT_WIRE, 1.0, 3.0, sensor="back", stage="climb"),),
    ),
    Scenario(
        "shorted-head",
        "At the front probe's head the wires touch: it reads the head, a few tens of degrees.\n"
        "No kiln falls like that; the others go on climbing.",
        (Spell(ProbeFault.SHORT, 1.0, 2.0, sensor="front", stage="high-fire"),),
    ),
    Scenario(
        "reversed",
        "The back probe is connected the wrong way round from the start.\n"
        "It falls as the kiln rises: found before a hundred degrees.",
        (Spell(ProbeFault.REVERSED, 0.0, FIRING_H, sensor="back"),),
    ),
    Scenario(
        "frozen",
        "The converter of the middle probe repeats one number for an hour and a half of the climb.\n"
        "No stall: the very same emf while all others move.",
        (Spell(ProbeFault.STUCK, 2.0, 1.5, sensor="middle", stage="climb"),),
    ),
    Scenario(
        "spikes",
        "A bad contact throws single readings of the front probe hundreds of degrees off, for four hours.\n"
        "No fall and no stoke; the readings between are good.",
        (Spell(ProbeFault.SPIKES, 1.0, 4.0, size=5.0, sensor="front", stage="climb"),),
    ),
    Scenario(
        "green-rot",
        "From the reduction on the type K probe at the back reads six degrees less for every hour in rich gas.\n"
        "No lagging back: it leaves its neighbours' story. Nothing should correct it silently.",
        (Spell(ProbeFault.GREEN_ROT, 0.0, FIRING_H, size=6.0, sensor="back", stage="reduction"),),
    ),
    Scenario(
        "wrong-letter",
        "A type S probe is entered as type K, in the node and in the site file.\n"
        "Far too cold from the start, ever more with the heat: the letter is the likeliest reason.",
        (Spell(ProbeFault.LETTER, 0.0, FIRING_H, sensor="middle"),),
    ),
    Scenario(
        "swapped",
        "Front and middle probe are exchanged at the node.\n"
        "The order of the places is wrong by tens of degrees; warming one tip shows it.",
        (Spell(ProbeFault.SWAPPED, 0.0, FIRING_H, size=1.0, sensor="front"),),
    ),
    Scenario(
        "hot-head",
        "Flame from a crack licks at the front probe's head for an hour.\n"
        "Its cold junction is warm beyond what a shed can be, and its number is worth less.",
        (Spell(ProbeFault.HEAD_FLAME, 2.0, 1.0, size=90.0, sensor="front", stage="high-fire"),),
    ),
    Scenario(
        "pulled-out",
        "The middle probe is knocked out of its hole and hangs beside the kiln for an hour.\n"
        "One alone falls, faster than any kiln: ask, and judge by another meanwhile.",
        (Spell(ProbeFault.PULLED_OUT, 1.5, 1.0, sensor="middle", stage="high-fire"),),
    ),
)

LINES = (
    Scenario(
        "node-reset",
        "The node starts anew three times within an hour.\n"
        "New boots, no alarm for seconds of gap, nothing counted twice.",
        tuple(Spell(LineFault.RESET, 1.0 + n / 3.0, 0.1, stage="climb") for n in range(3)),
    ),
    Scenario(
        "link-lost",
        "The link to the node is gone for twenty minutes; what it kept comes late.\n"
        "One alarm for the node, none for its sensors; the gap is filled, not judged.",
        (Spell(LineFault.OUTAGE, 1.0, 1.0 / 3.0, stage="high-fire"),),
    ),
    Scenario(
        "lost-packs",
        "A node that keeps nothing loses one pack in twenty and half a minute every ten, for three hours.\n"
        "Counted; no false fall, and no alarm ended by silence.",
        (
            Spell(LineFault.FORGETS, 0.0, FIRING_H),
            Spell(LineFault.LOSS, 1.0, 3.0, size=0.05, stage="climb"),
            Spell(LineFault.HOLES, 1.0, 3.0, size=30.0, stage="climb"),
        ),
    ),
    Scenario(
        "out-of-order",
        "Packs overtake each other by up to a minute and come twice, for two hours.\n"
        "Stored once and in order; findings are not revised backwards.",
        (Spell(LineFault.SHUFFLE, 1.0, 2.0, size=60.0, stage="climb"), Spell(LineFault.TWICE, 1.0, 2.0, stage="climb")),
    ),
)

NASTY = (
    Scenario(
        "bad-night",
        "Wet wood, a tired watch ever later, the guide's probe breaks, and for ten minutes the link is gone.\n"
        "What is the kiln and what is the wire: rhythm and stall are the kiln's, the rest is told apart.",
        (
            Spell(Mishap.WET, 0.0, 4.0, size=0.3, stage="high-fire"),
            Spell(Mishap.DRIFT, 0.5, 2.5, size=1.8, stage="high-fire"),
            Spell(ProbeFault.OPEN, 1.5, 1.5, sensor="middle", stage="high-fire"),
            Spell(LineFault.OUTAGE, 2.0, 1.0 / 6.0, stage="high-fire"),
            Spell(Mishap.DOZE, 3.2, 0.5, stage="high-fire"),
        ),
    ),
    Scenario(
        "two-mistakes",
        "A damper pushed in makes a slow climb, the watch heaps wood on it, and the back probe rots meanwhile.\n"
        "A choked bed under too little draught; the lagging back is half a lie.",
        (
            Spell(Mishap.DAMPER, 0.0, 3.0, size=0.3, stage="high-fire"),
            Spell(Mishap.HEAP, 0.5, 2.5, size=1.8, stage="high-fire"),
            Spell(ProbeFault.GREEN_ROT, 0.0, FIRING_H, size=3.0, sensor="back", stage="reduction"),
        ),
    ),
)

SCENARIOS = (GOOD[0], WATCHES[0], *GOOD[1:], *WATCHES[1:], *FIRES, *AIRS, *PROBES, *LINES, *NASTY)
"""All of them; the usual and the demonstration lead."""


def find_scenario(name: str) -> Scenario:
    """Return the scenario called `name`."""
    for scenario in SCENARIOS:
        if scenario.name == name:
            return scenario
    raise ScenarioError(f"no scenario '{name}'; choose one of {', '.join(s.name for s in SCENARIOS)}")
