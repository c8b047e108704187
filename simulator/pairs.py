"""Rows of two numbers, as a kiln file holds curves."""


def number_pairs(rows: list[list[float]]) -> tuple[tuple[float, float], ...]:
    """Return TOML `rows` of two numbers each as pairs of floats."""
    return tuple((float(a), float(b)) for a, b in rows)
