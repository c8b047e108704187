"""What can be wrong with a probe, its lead or its converter; a spell names the sensor."""

from enum import StrEnum

from monitor.model import SensorFault


class ProbeFault(StrEnum):
    """A fault between the hot junction and the number; the meaning of a spell's `size` stands beside each."""

    OPEN = "open"  # the circuit is broken; no size
    HOT_WIRE = "hot-wire"  # the circuit breaks and closes again in turns of 1 to 20 s; no size
    SHORT = "short"  # the wires touch at the connection head, whose warmth is read; no size
    SOAKED = "soaked"  # the insulation leaks: the share `size` of the emf is the head's
    REVERSED = "reversed"  # the probe's wires are exchanged at the head; no size
    CABLE_REVERSED = "cable-reversed"  # the extension cable is exchanged at both its ends; no size
    COPPER = "copper"  # plain copper in place of extension cable; no size
    WRONG_CABLE = "wrong-cable"  # extension cable for K at an S, R or B probe, for S at all others; no size
    LETTER = "letter"  # node and site file say K for an S, R or B probe, S for all others; from the start; no size
    SWAPPED = "swapped"  # exchanged with the sensor `size` places further on in the kiln file, from either probe
    GREEN_ROT = "green-rot"  # type K reads `size` degC less an hour while above 900 degC in reduction, for good
    STEP = "step"  # reads `size` degC more (below 0: less) at 1000 degC, in proportion elsewhere
    PULLED_OUT = "pulled-out"  # hangs outside beside its head; no size
    HEAD_FLAME = "head-flame"  # flame makes the head `size` degC warmer and the converter half of that
    COLD_OFF = "cold-off"  # the cold junction is told `size` degC too high
    COLD_LOST = "cold-lost"  # the cold junction is absent or beyond what can be; no size
    STUCK = "stuck"  # the converter repeats one emf while its cold junction moves; no size
    CACHED = "cached"  # a reader between repeats its last answer, emf and cold junction; no size
    OVER_VOLTAGE = "over-voltage"  # leakage drives the input beyond its limits; no size
    SPIKES = "spikes"  # one scan in fifty is `size` mV off, up or down
    HUM = "hum"  # the mains leak in with `size` mV, the filter being set for another mains frequency
    CONVERTER_RESET = "converter-reset"  # every `size` minutes back to power-on settings: nothing for 5 s
    DEAD_BUS = "dead-bus"  # all inputs of the node read all 0 or all 1; names no sensor; no size
    NO_RESULT = "no-result"  # the converter never has a fresh result: nothing is sent; no size
    WRONG_GAIN = "wrong-gain"  # the converter measures at the other gain than the node reckons; from the start; no size


TOLD_AS: dict[ProbeFault, SensorFault | None] = {
    ProbeFault.OPEN: SensorFault.OPEN,
    ProbeFault.HOT_WIRE: SensorFault.OPEN,
    ProbeFault.SHORT: SensorFault.SHORT,
    ProbeFault.SOAKED: SensorFault.DRIFT,
    ProbeFault.REVERSED: SensorFault.REVERSED,
    ProbeFault.CABLE_REVERSED: SensorFault.DRIFT,
    ProbeFault.COPPER: SensorFault.DRIFT,
    ProbeFault.WRONG_CABLE: SensorFault.DRIFT,
    ProbeFault.LETTER: SensorFault.LETTER,
    ProbeFault.SWAPPED: SensorFault.SWAPPED,
    ProbeFault.GREEN_ROT: SensorFault.DRIFT,
    ProbeFault.STEP: SensorFault.DRIFT,
    ProbeFault.PULLED_OUT: SensorFault.DRIFT,
    ProbeFault.HEAD_FLAME: SensorFault.COLD_JUNCTION,
    ProbeFault.COLD_OFF: SensorFault.COLD_JUNCTION,
    ProbeFault.COLD_LOST: SensorFault.COLD_JUNCTION,
    ProbeFault.STUCK: SensorFault.FROZEN,
    ProbeFault.CACHED: SensorFault.FROZEN,
    ProbeFault.OVER_VOLTAGE: SensorFault.RANGE,
    ProbeFault.SPIKES: SensorFault.SPIKES,
    ProbeFault.HUM: SensorFault.SPIKES,
    ProbeFault.CONVERTER_RESET: None,
    ProbeFault.DEAD_BUS: SensorFault.MISSING,
    ProbeFault.NO_RESULT: SensorFault.MISSING,
    ProbeFault.WRONG_GAIN: SensorFault.DRIFT,
}
"""The word that findings have for each; None where a watch has nothing to be told (gaps of seconds)."""

FROM_THE_START = frozenset({ProbeFault.LETTER, ProbeFault.WRONG_GAIN})
"""What cannot begin while a kiln is fired."""
WHOLE_NODE = frozenset({ProbeFault.DEAD_BUS})
"""What concerns every input: such a spell names no sensor."""
TOLD_BY_NODE = frozenset(
    {ProbeFault.OPEN, ProbeFault.HOT_WIRE, ProbeFault.CONVERTER_RESET, ProbeFault.DEAD_BUS, ProbeFault.NO_RESULT}
)
"""What the node tells by a word or by silence: the only faults that an oxygen probe can have."""
