"""A value over its limit, with a deadband."""

import pytest

from monitor.alarms.sign import is_over


@pytest.mark.parametrize(
    ("value", "was", "over"),
    [(100.0, False, False), (100.1, False, True), (96.0, True, True), (95.0, True, False), (96.0, False, False)],
)
def test_what_ends_needs_more_than_what_begins(value: float, was: bool, over: bool) -> None:
    """Over at the limit, and over no longer only below the deadband."""
    assert is_over(value, 100.0, 5.0, was=was) is over


def test_an_unknown_value_is_neither() -> None:
    """No data is told as such."""
    assert is_over(None, 100.0, 5.0, was=True) is None
