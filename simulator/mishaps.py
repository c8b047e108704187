"""What a crew can get wrong or be dealt; the meaning of a spell's `size` stands beside each."""

from enum import StrEnum


class Mishap(StrEnum):
    """A mishap of the crew, its wood or its doors."""

    DOZE = "doze"  # nobody stokes; no size
    LATE = "late"  # stokes come `size` times the intended interval apart
    HEAP = "heap"  # `size` times the wood of before at every stoke, the air left as it was
    AJAR = "ajar"  # the stoke door stands open by the share `size`
