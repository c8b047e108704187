"""Curves of a kiln file."""

from simulator.pairs import number_pairs


def test_rows_become_pairs_of_floats() -> None:
    """TOML's whole numbers too."""
    pairs = number_pairs([[15, 0.5], [130, 2]])

    assert pairs == ((15.0, 0.5), (130.0, 2.0))
    assert all(isinstance(n, float) for pair in pairs for n in pair)
