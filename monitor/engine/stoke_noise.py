"""What a sensor does between stokes, and how surprising each change is against it.

Flame flicker seen through the sheath is a first-order lag of a first-order noise, so a change is told from the three
before it but for an innovation that is white. Weights come from the autocovariance of calm slots (Levinson's
recursion), the usual size of innovations from their median, which stokes hardly move. All is learnt slot by slot as
slots leave the window, when it is known which of them a stoke has moved.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.limits import STOKE_FLOOR_C, STOKE_SURE_SLOTS, STOKE_SURPRISE
from monitor.engine.setup import BoolArray
from monitor.engine.stoke_cells import BLOCK, LEAD, ORDER, Cells
from monitor.model import FloatArray

_SD_OF_MEDIAN = 1.4826
_CLIP = 4.0
_LEVEL_SLOTS = 240.0
_MEMORY_BLOCKS = 30.0
_STEP = 0.012
_LARGEST = 0.97


@dataclass(slots=True, eq=False)
class Noise:
    """What is usual for each sensor (K, S), degC per change.

    `mean` change, median `size` of changes off it and `scale` of innovations; `covariance` and `weights` (K, S, n) of
    changes; `count` calm slots learnt from.
    """

    mean: FloatArray
    size: FloatArray
    scale: FloatArray
    covariance: FloatArray
    weights: FloatArray
    count: FloatArray


def new_noise(shape: tuple[int, int]) -> Noise:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    return Noise(
        mean=np.zeros(shape),
        size=np.full(shape, 0.1),
        scale=np.full(shape, 0.1),
        covariance=np.zeros((*shape, ORDER + 1)),
        weights=np.zeros((*shape, ORDER)),
        count=np.zeros(shape),
    )


def forget(noise: Noise, which: BoolArray) -> None:
    """Begin anew for sensors `which` (K, S)."""
    for state in (noise.mean, noise.covariance, noise.weights, noise.count):
        state[which] = 0.0
    noise.size[which] = noise.scale[which] = 0.1


def learn_calm(noise: Noise, cells: Cells, calm: BoolArray) -> None:
    """Learn from the oldest block of the window; `calm` (K, LEAD + BLOCK) marks slots that no stoke has moved."""
    n = BLOCK
    off = cells.change[:, :, : LEAD + n] - noise.mean[:, :, None]
    good = np.isfinite(off) & cells.real[:, :, : LEAD + n] & calm[:, None, :]
    used = good[:, :, LEAD:]
    heard = used.sum(axis=2)
    if not heard.any():
        return
    limit = (_CLIP * _SD_OF_MEDIAN) * noise.size[:, :, None]
    kept = np.where(good, np.minimum(np.maximum(off, -limit), limit), 0.0)
    late = kept[:, :, LEAD:]
    step = np.maximum(_STEP, 1.0 / (noise.count / 6.0 + 2.5))
    noise.size = _nearer(noise.size, off[:, :, LEAD:], used, step)
    new = innovations(noise, cells, LEAD, LEAD + n)
    noise.scale = _nearer(noise.scale, new, used & np.isfinite(new), step)
    gain = np.maximum(1.0 / _LEVEL_SLOTS, 1.0 / (noise.count + 1.0))
    noise.mean += np.minimum(heard * gain, 1.0) * late.sum(axis=2) / np.maximum(heard, 1)
    share = np.maximum(1.0 / _MEMORY_BLOCKS, 1.0 / (noise.count / n + 1.0)) / n
    product = np.empty_like(noise.covariance)
    for k in range(ORDER + 1):
        (late * _back(kept, k, cells, n)).sum(axis=2, out=product[:, :, k])
    noise.covariance += share[:, :, None] * (product - heard[:, :, None] * noise.covariance)
    noise.count += heard


def fit_weights(noise: Noise) -> None:
    """Work out the weights that tell a change from those before it."""
    r = noise.covariance
    error = 1.01 * r[:, :, 0] + 1e-9
    weights = np.zeros((*r.shape[:2], 0))
    for k in range(1, ORDER + 1):
        rest = r[:, :, k] - (weights * r[:, :, k - 1 : 0 : -1]).sum(axis=2)
        reflection = np.minimum(np.maximum(rest / error, -_LARGEST), _LARGEST)
        weights = np.concatenate(
            [weights - reflection[:, :, None] * weights[:, :, ::-1], reflection[:, :, None]], axis=2
        )
        error = error * (1.0 - reflection**2)
    noise.weights = np.where((noise.count > STOKE_SURE_SLOTS)[:, :, None], weights, noise.weights)


def innovations(noise: Noise, cells: Cells, begin: int, end: int) -> FloatArray:
    """Return what changes `begin` to `end` of the window bring that could not be foreseen, degC; NaN where unknown."""
    off = cells.change[:, :, begin - LEAD : end] - noise.mean[:, :, None]
    n = end - begin
    new = off[:, :, LEAD:].copy()
    for k in range(1, ORDER + 1):
        new -= noise.weights[:, :, k - 1 : k] * _back(off, k, cells, n)
    return np.where(cells.real[:, :, begin:end], new, np.nan)


def surprises(noise: Noise, cells: Cells, begin: int, end: int) -> FloatArray:
    """Return innovations in units of their usual size, clipped: one wild slot alone is no stoke."""
    ratio = innovations(noise, cells, begin, end) / (_SD_OF_MEDIAN * noise.scale[:, :, None])
    ratio[noise.count < STOKE_SURE_SLOTS] = np.nan
    return np.minimum(np.maximum(ratio, -STOKE_SURPRISE), STOKE_SURPRISE)


def _back(row: FloatArray, k: int, cells: Cells, n: int) -> FloatArray:
    """Return the newest `n` cells of `row` as they were k taken slots before."""
    size = row.shape[2]
    fine = row[:, :, size - n - k : size - k]
    if not cells.mixed[0]:
        return fine
    return np.where(cells.coarse[:, :, None], row[:, :, size - n - 2 * k : size - 2 * k], fine)


def _nearer(median: FloatArray, values: FloatArray, used: BoolArray, step: FloatArray) -> FloatArray:
    """Move a running median of absolute values towards `values` where `used`; there none is NaN."""
    over = np.where(used, np.sign(np.abs(values) - median[:, :, None]), 0.0).sum(axis=2)
    factor = np.exp(np.minimum(np.maximum(0.5 * step * over, -1.0), 1.0))
    return np.asarray(np.maximum(median * factor, STOKE_FLOOR_C))
