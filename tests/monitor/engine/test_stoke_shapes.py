"""The shapes of a stoke at a firebox sensor."""

import numpy as np

from monitor.engine.stoke_cells import ORDER
from monitor.engine.stoke_shapes import WINDOW, Shapes, plain_shapes, shapes_as_surprises


def test_every_shape_falls_from_its_second_slot_and_may_flare() -> None:
    """Nothing moves before the stoke, then the reading falls; what flares comes after."""
    shapes = plain_shapes()

    assert shapes.shape[1] == WINDOW
    assert (shapes[:, 0] == 0.0).all()
    assert (shapes[:, 1] < 0.0).all()
    assert (np.diff((shapes < 0.0).astype(int), axis=1)[:, 1:] <= 0).all()


def test_without_weights_shapes_are_only_scaled() -> None:
    """White noise needs no whitening: shapes of size one, in proportion to the plain ones."""
    plain = plain_shapes()
    shapes = shapes_as_surprises(np.zeros((1, 1, ORDER)), np.zeros((1, 1), bool))[0, 0].T

    assert np.allclose((shapes**2).sum(axis=1), 1.0)
    assert np.allclose(shapes, plain / np.sqrt((plain**2).sum(axis=1, keepdims=True)))


def test_a_first_order_weight_takes_off_its_share_of_the_slot_before() -> None:
    """Innovations of changes with weight 0.5: each less half the one before, at 10 s of the one two slots before."""
    weights = np.zeros((1, 2, ORDER))
    weights[:, :, 0] = 0.5
    shapes = shapes_as_surprises(weights, np.array([[False, True]]))[0]
    plain = plain_shapes()
    fine = plain - 0.5 * np.pad(plain, ((0, 0), (1, 0)))[:, :-1]
    double = plain + np.pad(plain, ((0, 0), (1, 0)))[:, :-1]
    coarse = double - 0.5 * np.pad(double, ((0, 0), (2, 0)))[:, :-2]

    for found, wanted in zip(shapes, (fine, coarse), strict=True):
        assert np.allclose(found.T, wanted / np.sqrt((wanted**2).sum(axis=1, keepdims=True)))


def test_shapes_are_worked_out_anew_when_weights_change() -> None:
    """The same weights give the same array, others another."""
    shapes = Shapes((1, 1))
    weights, fine = np.full((1, 1, ORDER), 0.2), np.zeros((1, 1), bool)
    first = shapes.of(weights, fine)

    assert shapes.of(weights.copy(), fine) is first
    assert np.allclose(first, shapes_as_surprises(weights, fine))
    assert not np.allclose(shapes.of(weights * 0.5, fine), first)
    assert not np.allclose(shapes.of(weights * 0.5, ~fine), first)
