"""The look of plots: night-blue ink on warm paper, the kiln's places from ember red to the grey of the chimney."""

from monitor.model import FindingKind

PAPER = "#fbf8f2"
INK = "#232a36"
FAINT = "#c9c3b8"
PLACES = {
    "firebox": "#a31621",
    "front": "#e36414",
    "middle": "#4f8a3c",
    "back": "#1f78a4",
    "flue": "#6d6a86",
    "chimney": "#a5a1ad",
}
KINDS = {
    FindingKind.REDUCTION: "#7a5aa6",
    FindingKind.STALL: "#d59f00",
    FindingKind.FALL: "#2f6fd0",
    FindingKind.RHYTHM: "#0b8a83",
    FindingKind.SENSOR: "#cf2f6b",
}
FRONT_STOKE = INK
EMBERS = "#c98a5e"
CLEAR_OF_AIR = 1.0
"""Excess-air ratio at which fuel and air are even."""
HIGHEST_RATIO = 3.0
"""Excess-air ratio at which the panel of air is cut off: beyond it a fire is merely cool."""
STYLES = ("-", (0, (5, 1.2)), (0, (2, 1)), (0, (1, 1)))
"""Lines of the first, second, ... sensor of one zone."""
RC = {
    "font.size": 9.0,
    "text.color": INK,
    "axes.facecolor": PAPER,
    "axes.edgecolor": FAINT,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": "#e6e0d4",
    "grid.linewidth": 0.6,
    "xtick.color": INK,
    "ytick.color": INK,
    "legend.frameon": True,
    "legend.facecolor": PAPER,
    "legend.edgecolor": FAINT,
    "legend.framealpha": 0.9,
}
