"""What the host knows of itself: disk, heat, and a clock that was set."""

from pathlib import Path

import pytest

import monitor.host_facts as module
from monitor.host_facts import HostFacts


class Clocks:
    """The machine's two clocks, set by the test."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.host, self.wall = 1000.0, 1_800_000_000.0
        monkeypatch.setattr(module, "host_seconds", lambda: self.host)
        monkeypatch.setattr(module, "wall_seconds", lambda: self.wall)

    def run(self, seconds: float, *, set_by: float = 0.0) -> None:
        """Let seconds pass, and set the wall clock by some."""
        self.host += seconds
        self.wall += seconds + set_by


@pytest.fixture
def clocks(monkeypatch: pytest.MonkeyPatch) -> Clocks:
    """Clocks at rest."""
    return Clocks(monkeypatch)


def test_room_and_heat_are_looked_at_now_and_then(tmp_path: Path, clocks: Clocks) -> None:
    """The folder need not be there yet; heat is told in thousandths of a degree."""
    heat = tmp_path / "temp"
    heat.write_text("61234\n", encoding="ascii")
    facts = HostFacts(tmp_path / "data" / "new", heat)
    first = facts.look()
    heat.write_text("90000\n", encoding="ascii")

    assert first.free_bytes is not None
    assert first.free_bytes > 0.0
    assert (first.host_c, facts.look().host_c) == (61.234, 61.234)
    clocks.run(30.0)
    assert facts.look().host_c == 90.0


@pytest.mark.parametrize("text", [None, "", "hot"])
@pytest.mark.usefixtures("clocks")
def test_a_host_without_a_heat_probe_knows_no_heat(tmp_path: Path, text: str | None) -> None:
    """Unknown is not cool."""
    if text is not None:
        (tmp_path / "temp").write_text(text, encoding="ascii")

    assert HostFacts(tmp_path, tmp_path / "temp").look().host_c is None


@pytest.mark.parametrize(("set_by", "word"), [(3600.0, "forward"), (-5.0, "back")])
def test_a_clock_that_was_set_is_told_for_ten_minutes(tmp_path: Path, clocks: Clocks, set_by: float, word: str) -> None:
    """A step of more than 2 s; slewing is none."""
    facts = HostFacts(tmp_path)
    clocks.run(60.0, set_by=1.5)
    assert facts.look().clock_error is None
    clocks.run(1.0, set_by=set_by)
    told = facts.look().clock_error
    assert told is not None
    assert word in told
    clocks.run(599.0)
    assert facts.look().clock_error == told
    clocks.run(1.0)
    facts.look()
    clocks.run(1.0)
    assert facts.look().clock_error is None
