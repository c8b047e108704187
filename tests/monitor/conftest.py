"""Fixtures of the tests of the wiring."""

import pytest

from monitor.store.opening import Store


@pytest.fixture
def quick_commits(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commit every 20 ms in place of 0.9 s: the tests wait for commits."""
    assert Store.start_writer.__kwdefaults__ is not None
    monkeypatch.setitem(Store.start_writer.__kwdefaults__, "commit_every_s", 0.02)
