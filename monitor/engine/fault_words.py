"""How sensor faults that show in the numbers are told, when they begin and when they end."""

from monitor.engine.letter import other_letter
from monitor.engine.setup import EngineSetup
from monitor.engine.told import FaultChange, sensor_finding
from monitor.model import Finding, FindingState, SensorFault

WORDS = {
    SensorFault.FROZEN: (
        "{name} has shown the very same value for {minutes:.0f} minutes: it is stuck.",
        "{name} moves again.",
    ),
    SensorFault.REVERSED: (
        "{name} reads colder the hotter it gets: its two wires are swapped.",
        "{name} reads the right way round again.",
    ),
    SensorFault.SPIKES: (
        "{name} jumps wildly and back again: a loose contact or a disturbance.",
        "{name} has been calm for ten minutes.",
    ),
    "hum": (
        "{name} trembles as no fire does: the mains leak in. Check the mains setting (50 or 60 Hz) and the lead's way.",
        "{name} is calm again.",
    ),
    SensorFault.SHORT: (
        "{name} fell to {now:.0f} degrees at once: its lead is shorted at the connection head.",
        "{name} reads the fire again.",
    ),
    "step": (
        "{name} jumped by {by:+.0f} degrees at once, which heat cannot do: the probe or a contact moved.",
        "{name} has jumped back to where it was.",
    ),
    "pulled-out": (
        "{name} fell to {now:.0f} degrees within minutes and no other did: was the probe pulled out, or did it fall?",
        "{name} is back in the fire.",
    ),
    "pair": (
        "{name} falls ever further behind its neighbour, {by:.0f} degrees apart now: it drifts. Trust the other.",
        "{name} reads like its neighbour again.",
    ),
    "gain": (
        "{name} is off fourfold: its converter measures at another gain than is reckoned with.",
        "{name} reads what its neighbours do again.",
    ),
    "cold-off": (
        "{name} has its cold junction {by:+.1f} degrees from the others of its box: it reads wrong by about as much.",
        "{name} has its cold junction with the others again.",
    ),
    SensorFault.LETTER: (
        "{name} does not fit its neighbours as type {letter}, but would as type {likely}: check its letter.",
        "{name} fits its neighbours again.",
    ),
    SensorFault.SWAPPED: (
        "{name} reads what {other} should: their inputs are swapped.",
        "{name} and {other} have their own inputs again.",
    ),
}
"""By fault, or by why it is told where the fault does not say enough."""


def fault_finding(
    setup: EngineSetup, change: FaultChange, place: tuple[int, int], *, known_at: float, now_c: float
) -> Finding:
    """Return what is told of the sensor at `place` (kiln, sensor), known at `known_at`, reading `now_c`."""
    k, s = place
    begins = bool(change.begun[k, s])
    name, times = setup.ids[k][s], (known_at, float(change.onset[k, s]))
    letter = setup.letters[k][s]
    other = -1 if change.other is None else int(change.other[k, s])
    text = WORDS[change.why or change.fault][0 if begins else 1].format(
        name=name,
        minutes=(times[0] - times[1]) / 60.0,
        now=now_c,
        by=0.0 if change.measure_c is None else float(change.measure_c[k, s]),
        letter=letter,
        likely=other_letter(letter),
        other=setup.ids[k][other] if other >= 0 else "another",
    )
    state = FindingState.BEGIN if begins else FindingState.END
    return sensor_finding(state, name, change.fault, times=times, text=text)
