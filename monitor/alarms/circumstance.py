"""Where the firing stands and what makes an alarm worse: the words that rows of the alarm table may use."""

from enum import StrEnum


class Circumstance(StrEnum):
    """What makes an alarm worse."""

    HIGH_FIRE = "high-fire"  # guide or the alarm's own sensor at or above the high fire of the settings
    EARLY = "early"  # the same below `early_c`
    GUIDE_OR_LAST = "guide-or-last"  # the sensor that guides, or the last one with a value
    LASTING = "lasting"  # for `after_s`
    COMING_DOWN = "coming-down"
    ALONE = "alone"  # no sign of life of anybody for long
    SHORT = "short"  # what is left is about to end


class Phase(StrEnum):
    """Where the firing stands, for rows that do not apply everywhere; several may hold at once."""

    DRYING = "drying"
    SOAK = "soak"
    REDUCTION = "reduction"  # reduction is wanted at this temperature
    COOLING = "cooling"
