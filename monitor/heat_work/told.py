"""Heat work as a person may read it: one temperature, and "about cone N" with its uncertainty.

The temperature is the one up to which a steady climb of 60 degC/h would have given as much. Never a decision: the model
misses the table by some degrees, cones are read to 15 or 25, and a sensor stands in one place.
"""

from dataclasses import dataclass

import numpy as np

from monitor.heat_work.cones import CONES, END_60_C, NAMES
from monitor.heat_work.steady import climbed_to_c
from monitor.model import FloatArray

STEADY_C_PER_H = 60.0

MODEL_MISS_C = 3.0
"""Standard deviation of the model's end points from the table it describes, over all cones, degC."""

_READING_LIMIT_C = (25.0, 15.0)
"""To what cones can be read, plus or minus: 022 to 01, and 1 on; the makers' contemporaries, from memory."""

_FIRST_HIGH = NAMES.index("1")


@dataclass(frozen=True, slots=True)
class AboutCone:
    """The cone that is nearest, and the lowest and highest it may be; None below the first and above the last.

    `half_width_c` is twice the standard uncertainty of the temperature that was asked about, degC.
    """

    cone: str | None
    lowest: str | None
    highest: str | None
    half_width_c: float


def equivalent_60_c(work: FloatArray) -> FloatArray:
    """Return the temperature (...) up to which a climb of 60 degC/h gives as much as `work` (..., C), degC.

    Each cone's own model gives one such temperature, and they differ where the climb was not 60 degC/h. Each interval
    between neighbouring cones is therefore filled by the share of it that both models call done: exact for a climb of
    60 degC/h; the end point of cone N at the moment when cone N falls between a fallen and a standing one; steady and
    never falling as work grows.
    """
    beyond = climbed_to_c(work, np.full(np.shape(work)[:-1], STEADY_C_PER_H)) - END_60_C
    done, lacking = np.maximum(beyond, 0.0), np.maximum(-beyond, 0.0)
    done_pair = done[..., :-1] + done[..., 1:]
    share = done_pair / np.maximum(done_pair + lacking[..., :-1] + lacking[..., 1:], 1e-12)
    filled = (share * np.diff(END_60_C)).sum(axis=-1)
    return np.asarray(END_60_C[0] - lacking[..., 0] + filled + done[..., -1])


def equivalent_uncertainty_c(equivalent_c: FloatArray, sensor_u_c: FloatArray | float) -> FloatArray:
    """Return the standard uncertainty (...) of an equivalent temperature as a place among cones, degC.

    Model, reading of cones (a limit, taken as rectangular: divided by the root of 3) and the sensor's own standard
    uncertainty `sensor_u_c` add as squares (JCGM 100:2008); a degree of the sensor is a degree of the equivalent.
    """
    limit = np.where(np.asarray(equivalent_c) < END_60_C[_FIRST_HIGH], *_READING_LIMIT_C)
    return np.asarray(np.sqrt(MODEL_MISS_C**2 + limit**2 / 3.0 + np.asarray(sensor_u_c) ** 2))


def about_cone(equivalent_c: float, sensor_u_c: float) -> AboutCone:
    """Return the cone nearest to `equivalent_c` and those within twice the standard uncertainty of it."""
    half_width_c = 2.0 * float(equivalent_uncertainty_c(np.array(equivalent_c), sensor_u_c))
    return AboutCone(
        cone=_nearest(equivalent_c),
        lowest=_nearest(equivalent_c - half_width_c),
        highest=_nearest(equivalent_c + half_width_c),
        half_width_c=half_width_c,
    )


def _nearest(celsius: float) -> str | None:
    """Return the cone whose end point is nearest, None half a step or more before the first or behind the last."""
    steps = np.diff(END_60_C)
    if not END_60_C[0] - 0.5 * steps[0] < celsius < END_60_C[-1] + 0.5 * steps[-1]:
        return None
    return CONES[int(np.abs(END_60_C - celsius).argmin())].name
