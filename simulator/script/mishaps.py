"""What a crew can get wrong or be dealt; the meaning of a spell's `size` stands beside each."""

from enum import StrEnum


class Mishap(StrEnum):
    """A mishap of the crew, its wood or its doors."""

    DOZE = "doze"  # nobody does anything; no size
    LATE = "late"  # front stokes come `size` times the intended interval apart (under 1: hurried)
    DRIFT = "drift"  # front stokes come ever later, `size` times the intended interval apart at the end
    MISSED = "missed"  # each front stoke is missed with the probability `size`
    HEAP = "heap"  # `size` times the wood of before at every front stoke, the air left as it was, no raking
    UNRAKED = "unraked"  # nobody rakes the ember bed; no size
    SIDES_LEFT = "sides-left"  # nobody feeds the side ports; no size
    SIDE_HEAP = "side-heap"  # `size` times the wood at every side stoke
    WET = "wet"  # the wood holds the share `size` of water
    THICK = "thick"  # the wood is `size` times as thick as it should be
    AJAR = "ajar"  # the stoke door stands open by the share `size`
    PORT_AJAR = "port-ajar"  # the side port of `zone` stands open by the share `size`
    DAMPER = "damper"  # the damper stands at `size`, share of full
    INLETS = "inlets"  # both inlets stand at `size`, share of full
    ATMOSPHERE = "atmosphere"  # the air is set for `size` times the demand, whatever the stage asks
