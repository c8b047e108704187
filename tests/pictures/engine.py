"""Draw the figures of monitor/engine/README.md: `python tests/pictures/engine.py [NAME ...]`.

Every curve is what the engine's own code made of made-up readings; nothing is drawn by hand. Without names all figures
are drawn, into monitor/engine/figures.
"""

import argparse
from pathlib import Path

from ahead_figures import draw_forecast, draw_heat_work
from fire_figures import draw_climb, draw_fall, draw_reduction, draw_stall, draw_weights
from sensor_figures import draw_drift, draw_jumps
from stoke_figures import draw_rhythm, draw_stoke

FOLDER = Path(__file__).resolve().parents[2] / "monitor" / "engine" / "figures"
FIGURES = {
    "climb": draw_climb,
    "weights": draw_weights,
    "fall": draw_fall,
    "stall": draw_stall,
    "reduction": draw_reduction,
    "jumps": draw_jumps,
    "drift": draw_drift,
    "stoke": draw_stoke,
    "rhythm": draw_rhythm,
    "heat-work": draw_heat_work,
    "forecast": draw_forecast,
}


def main() -> None:
    """Draw what was asked for."""
    parser = argparse.ArgumentParser(description="Draw the figures of monitor/engine/README.md.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(FIGURES)}; default all")
    names = parser.parse_args().names or list(FIGURES)
    FOLDER.mkdir(exist_ok=True)
    for name in names:
        FIGURES[name](FOLDER)
        print(f"{name}.png: {(FOLDER / f'{name}.png').stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
