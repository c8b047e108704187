"""What the crew taps in its log: that the kiln is closed up, which no sensor can tell from a fire that dies."""

from monitor.model import Entry, EntryKind
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.intent import closed_h

TAPPED_AFTER_S = 120.0
"""Clamming up comes first, the tap when hands are free."""


def log_of(spec: KilnSpec, lit: int) -> tuple[Entry, ...]:
    """Return the entries of a firing of `spec` lit at epoch second `lit`, in order; none where it has no end."""
    hour = closed_h(spec)
    if hour == float("inf"):
        return ()
    closed = lit + 3600.0 * hour
    return (Entry("closed-up", closed + TAPPED_AFTER_S, closed, EntryKind.CLOSED_UP),)
