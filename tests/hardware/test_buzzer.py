"""The node's buzzer: armed by the first heartbeat, across resets, until the host rests."""

import pytest
from buzzer import BEEP_MS, CHIRP_MS, SILENCE_MS, ArmedFile, Buzzer


class Pin:
    """Remembers its level."""

    level = None

    def value(self, level):
        """Drive the pin."""
        self.level = level


class Rig:
    """A buzzer on a pin with its file."""

    def __init__(self, path, now_ms=0):
        self.pin = Pin()
        self.file = ArmedFile(str(path))
        self.buzzer = Buzzer(self.pin, self.file, now_ms)

    def level(self, now_ms):
        """Return the level after a step."""
        self.buzzer.step(now_ms)
        return self.pin.level


@pytest.fixture
def rig(tmp_path):
    """Return a buzzer that was never armed."""
    return Rig(tmp_path / "armed")


def test_a_node_that_never_had_a_host_is_silent(rig):
    """Nobody relies on it yet."""
    assert [rig.level(now_ms) for now_ms in (0, SILENCE_MS, 10 * SILENCE_MS)] == [0, 0, 0]


def test_a_host_that_appears_gets_one_chirp(rig):
    """The first heartbeat chirps, the next ones do not."""
    rig.buzzer.heard_alive(1000)

    assert [rig.level(1000), rig.level(1000 + CHIRP_MS - 1), rig.level(1000 + CHIRP_MS)] == [1, 1, 0]
    rig.buzzer.heard_alive(5000)
    assert rig.level(5000) == 0


def test_silence_of_30_s_beeps_until_a_heartbeat(rig):
    """It starts at 30 s, not before, goes on and off, and the heartbeat ends it with a chirp."""
    rig.buzzer.heard_alive(0)

    assert [rig.level(SILENCE_MS - 1), rig.level(SILENCE_MS)] == [0, 1]
    assert [rig.level(SILENCE_MS + BEEP_MS), rig.level(SILENCE_MS + 2 * BEEP_MS)] == [0, 1]
    assert rig.level(100 * SILENCE_MS) == 1
    rig.buzzer.heard_alive(100 * SILENCE_MS + 1)
    assert [rig.level(100 * SILENCE_MS + 2), rig.level(100 * SILENCE_MS + 1 + CHIRP_MS)] == [1, 0]


def test_rest_disarms(rig):
    """After an orderly stop there is no alarm, and the next host arms and chirps again."""
    rig.buzzer.heard_alive(0)
    rig.buzzer.heard_rest()

    assert not rig.file.is_armed()
    assert rig.level(10 * SILENCE_MS) == 0
    rig.buzzer.heard_alive(10 * SILENCE_MS + 1)
    assert rig.level(10 * SILENCE_MS + 1) == 1
    assert rig.file.is_armed()


def test_armed_lasts_across_a_reset(tmp_path):
    """A node that restarts while the host is dead alarms 30 s later."""
    Rig(tmp_path / "armed").buzzer.heard_alive(0)
    after_reset = Rig(tmp_path / "armed", 70)

    assert [after_reset.level(70 + SILENCE_MS - 1), after_reset.level(70 + SILENCE_MS)] == [0, 1]


def test_a_rested_node_stays_silent_across_a_reset(tmp_path):
    """The file is gone."""
    before = Rig(tmp_path / "armed")
    before.buzzer.heard_alive(0)
    before.buzzer.heard_rest()

    assert Rig(tmp_path / "armed").level(SILENCE_MS) == 0


def test_a_flash_that_cannot_be_written_does_not_stop_the_buzzer(tmp_path):
    """The alarm works for this start of the node; the file says that it did not take."""
    rig = Rig(tmp_path / "absent" / "armed")
    rig.buzzer.heard_alive(0)

    assert rig.level(SILENCE_MS) == 1
    assert not rig.file.arm()
    assert not rig.file.disarm()
    rig.buzzer.heard_rest()
    assert rig.level(SILENCE_MS) == 0
