"""What a stoke may look like at a firebox sensor before anything was learnt of this kiln.

Cold air and drying make the driving temperature fall for the seconds that the door is open and a little longer; then
the wood flares. Through a sheath far slower than that, the reading falls in a straight line and turns up. Each shape is
the change per slot: down for one to eight slots, then up by a share of it that fades.
"""

import numpy as np

from monitor.engine.setup import BoolArray
from monitor.engine.stoke_cells import LEAD, ORDER
from monitor.model import FloatArray

WINDOW = 14
"""Slots that a stoke is judged by: 70 s, the one before it included."""

_FALLS = (1, 2, 3, 5, 8)
_FLARES = ((0.0, 1.0), (0.4, 6.0), (1.0, 5.0), (2.5, 4.0))
_FIRST_SLOT = 0.6
"""Share of the first slot that a stoke has on average, and a little for how the fall sets in."""


def plain_shapes() -> FloatArray:
    """Return the shapes (B, WINDOW) of changes per slot, a stoke's first slot at position 1."""
    shapes = []
    for fall in _FALLS:
        for flare, fades in _FLARES:
            if flare > 1.0 and fall > 2:
                continue
            shape = np.zeros(WINDOW)
            shape[1 : 1 + fall] = -1.0
            shape[1] = -_FIRST_SLOT
            shape[1 + fall :] = flare * np.exp(-np.arange(WINDOW - 1 - fall) / fades)
            shapes.append(shape)
    return np.array(shapes)


_PLAIN = np.pad(plain_shapes(), ((0, 0), (LEAD + 1, 0)))


class Shapes:
    """The shapes for the present weights, worked out anew when those change."""

    def __init__(self, shape: tuple[int, int]) -> None:
        self._weights = np.zeros((*shape, ORDER))
        self._coarse = np.zeros(shape, bool)
        self._shapes = shapes_as_surprises(self._weights, self._coarse)

    def of(self, weights: FloatArray, coarse: BoolArray) -> FloatArray:
        """Return the shapes (K, S, WINDOW, B) for sensors with these `weights`."""
        if not ((weights == self._weights).all() and (coarse == self._coarse).all()):
            self._weights, self._coarse = weights.copy(), coarse.copy()
            self._shapes = shapes_as_surprises(weights, coarse)
        return self._shapes


def shapes_as_surprises(weights: FloatArray, coarse: BoolArray) -> FloatArray:
    """Return the shapes (K, S, WINDOW, B) of size 1 as the innovations that they would be with these `weights`."""
    fine = np.broadcast_to(_PLAIN, (*coarse.shape, *_PLAIN.shape))
    double = _PLAIN.copy()
    double[:, 1:] += _PLAIN[:, :-1]
    rows = np.where(coarse[:, :, None, None], double, fine)
    end = rows.shape[3]
    shapes = rows[:, :, :, end - WINDOW :].copy()
    for k in range(1, ORDER + 1):
        near, far = (rows[:, :, :, end - WINDOW - step : end - step] for step in (k, 2 * k))
        shapes -= weights[:, :, k - 1, None, None] * np.where(coarse[:, :, None, None], far, near)
    shapes /= np.sqrt((shapes * shapes).sum(axis=3, keepdims=True))
    return np.ascontiguousarray(np.swapaxes(shapes, 2, 3))
