"""The record clock: it never goes back, goes on from what is stored, and a simulated kiln leads its own."""

import pytest

from monitor import clock
from monitor.clock import FollowingClock, HostClock, host_seconds, wall_seconds
from tests.made_up import BEGIN


class Machine:
    """A machine whose clocks a test sets."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.wall, self.ran = BEGIN, 50.0
        monkeypatch.setattr(clock, "wall_seconds", lambda: self.wall)
        monkeypatch.setattr(clock, "host_seconds", lambda: self.ran)

    def run(self, seconds: float) -> None:
        """Let time pass."""
        self.wall += seconds
        self.ran += seconds


def test_the_record_clock_is_the_machine_s_at_the_start(monkeypatch: pytest.MonkeyPatch) -> None:
    """And goes on by the seconds that pass."""
    machine = Machine(monkeypatch)
    record = HostClock()
    machine.run(12.5)

    assert record.now() == BEGIN + 12.5
    assert record.behind_s == 0.0


@pytest.mark.parametrize("step_s", [-86400.0, -0.5, 3600.0])
def test_a_clock_that_is_set_moves_no_record_time(monkeypatch: pytest.MonkeyPatch, step_s: float) -> None:
    """Whoever sets the machine's clock meanwhile: record time only grows by the seconds that pass."""
    machine = Machine(monkeypatch)
    record = HostClock()
    before = record.now()
    machine.wall += step_s
    machine.run(1.0)

    assert record.now() == before + 1.0


def test_a_machine_that_woke_in_the_past_goes_on_from_what_is_stored(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a battery a clock wakes years ago; the record goes on, and says how far the machine lay behind."""
    machine = Machine(monkeypatch)
    machine.wall = BEGIN - 1000.0
    record = HostClock(floor=BEGIN)
    machine.run(3.0)

    assert record.now() == BEGIN + 3.0
    assert record.behind_s == 1000.0


def test_a_floor_in_the_past_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The usual start: the newest record is older than now."""
    Machine(monkeypatch)

    assert HostClock(floor=BEGIN - 60.0).now() == BEGIN


def test_record_time_is_whole_milliseconds(monkeypatch: pytest.MonkeyPatch) -> None:
    """As it is stored and exported, so that a replay sees the very same clock."""
    machine = Machine(monkeypatch)
    record = HostClock()
    machine.run(0.123456)

    assert record.now() == round(BEGIN + 0.123, 3)


def test_a_host_s_clock_follows_no_scan(monkeypatch: pytest.MonkeyPatch) -> None:
    """A node with a clock in the future moves nothing."""
    Machine(monkeypatch)
    record = HostClock()
    record.follow(BEGIN + 1e6)

    assert record.now() == BEGIN


def test_a_simulated_kiln_leads_the_clock() -> None:
    """The newest scan time is the time; an older one never moves it back."""
    record = FollowingClock(floor=BEGIN)
    record.follow(BEGIN + 60.0)
    record.follow(BEGIN + 30.0)

    assert record.now() == BEGIN + 60.0
    assert record.behind_s == 0.0
    assert FollowingClock().now() == 0.0


def test_the_machine_s_own_clocks_are_read() -> None:
    """Host seconds never fall; wall time is after this was written."""
    first = host_seconds()

    assert host_seconds() >= first
    assert wall_seconds() > BEGIN
