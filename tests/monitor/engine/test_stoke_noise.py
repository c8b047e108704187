"""What is usual of a sensor: whitening of flicker seen through a sheath."""

import numpy as np
import pytest
from scipy.signal import lfilter

from monitor.engine.limits import STOKE_SURPRISE
from monitor.engine.stoke_cells import BLOCK, KEPT, LEAD, Cells, new_cells, take_block
from monitor.engine.stoke_noise import Noise, fit_weights, forget, innovations, learn_calm, new_noise, surprises
from monitor.model import FloatArray

HOURS = 4


def _flicker(seed: int, every: int = 1) -> FloatArray:
    """Return degC per slot: first-order flicker of 20 s through a first-order sheath of 60 s."""
    rng = np.random.default_rng(seed)
    keeps, lag = np.exp(-5.0 / 20.0), np.exp(-5.0 / 60.0)
    gas = lfilter([1.0], [1.0, -keeps], rng.normal(0.0, 2.0, HOURS * 720))
    celsius = 900.0 + lfilter([1.0 - lag], [1.0, -lag], gas)
    if every > 1:
        celsius[np.arange(len(celsius)) % every > 0] = np.nan
    return np.asarray(celsius)


def _learnt(celsius: FloatArray) -> tuple[Noise, Cells]:
    noise, cells = new_noise((1, 1)), new_cells((1, 1))
    for number, block in enumerate(celsius.reshape(-1, 1, 1, BLOCK)):
        if take_block(cells, block).any():
            forget(noise, np.ones((1, 1), bool))
        learn_calm(noise, cells, np.ones((1, LEAD + BLOCK), bool))
        if number % 5 == 0:
            fit_weights(noise)
    return noise, cells


@pytest.mark.parametrize("every", [1, 2])
def test_innovations_of_flicker_are_white_and_of_unit_size(every: int) -> None:
    """After four hours the surprises of the next one have no memory (all correlations under 0.15) and spread 1."""
    noise, cells = _learnt(_flicker(1, every))
    row: list[float] = []
    for block in _flicker(2, every).reshape(-1, 1, 1, BLOCK)[:60]:
        take_block(cells, block)
        row += surprises(noise, cells, KEPT - BLOCK, KEPT)[0, 0].tolist()
    white = np.array(row[BLOCK:])
    white = white[np.isfinite(white)]
    raw = np.diff(_flicker(2, every)[::every])

    assert np.std(white) == pytest.approx(1.0, abs=0.2)
    assert abs(np.corrcoef(raw[1:], raw[:-1])[0, 1]) > 0.2
    assert all(abs(np.corrcoef(white[lag:], white[:-lag])[0, 1]) < 0.15 for lag in (1, 2, 3))


def test_nothing_surprises_before_five_minutes_were_learnt() -> None:
    """A sensor that was just plugged in says nothing."""
    noise, cells = _learnt(_flicker(3)[: 2 * BLOCK])

    assert np.isnan(surprises(noise, cells, LEAD, KEPT)).all()


def test_one_wild_slot_counts_no_more_than_the_limit() -> None:
    """A leap of 30 degC is clipped to five standard deviations."""
    noise, cells = _learnt(_flicker(4))
    wild = np.full((1, 1, BLOCK), cells.raw[0, 0, -1])
    wild[0, 0, 4] += 30.0
    take_block(cells, wild)
    found = surprises(noise, cells, KEPT - BLOCK, KEPT)

    assert np.nanmax(np.abs(innovations(noise, cells, KEPT - BLOCK, KEPT))) > 20.0
    assert np.nanmax(np.abs(found)) == STOKE_SURPRISE


def test_slots_that_a_stoke_moved_teach_nothing() -> None:
    """Learning from moved slots alone leaves the state as it was."""
    noise, cells = _learnt(_flicker(5))
    before = noise.scale.copy(), noise.covariance.copy(), noise.count.copy()
    learn_calm(noise, cells, np.zeros((1, LEAD + BLOCK), bool))

    for now, then in zip((noise.scale, noise.covariance, noise.count), before, strict=True):
        assert (now == then).all()
