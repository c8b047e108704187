"""What can be wrong with a probe, its lead or its converter; a spell names the sensor."""

from enum import StrEnum


class ProbeFault(StrEnum):
    """A fault between the hot junction and the number; the meaning of a spell's `size` stands beside each."""

    OPEN = "open"  # the circuit is broken; no size
