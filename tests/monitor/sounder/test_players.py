"""The system's players: which is taken, what it gets, and what is said when nobody can play."""

import wave
from pathlib import Path

import numpy as np
import pytest

from monitor.exits import BAD_ARGUMENTS, CommandError
from monitor.sounder import players as module
from monitor.sounder.pattern import RATE_HZ
from monitor.sounder.players import find_player, held_in_memory, play_tone


def player(folder: Path, name: str, script: str) -> None:
    """Put an executable of that name into a folder."""
    path = folder / name
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)


def test_the_urgent_sound_reaches_the_player(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system's player gets a file whose first half second is 660 Hz and the next 880."""
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    player(tmp_path, "pw-play", f'cp "$1" {tmp_path}/heard.wav')

    assert play_tone() is None
    with wave.open(str(tmp_path / "heard.wav")) as heard:
        samples = np.frombuffer(heard.readframes(RATE_HZ), dtype="<i2").astype(float)
    for half, hertz in enumerate((660.0, 880.0)):
        part = samples[half * RATE_HZ // 2 :][: round(0.4 * RATE_HZ)]
        assert abs(np.abs(np.fft.rfft(part)).argmax() * RATE_HZ / len(part) - hertz) <= 2.5


def test_missing_player_is_told_with_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A host without sound is no riddle."""
    monkeypatch.setenv("PATH", str(tmp_path))

    assert "apt-get install alsa-utils" in (play_tone() or "")


def test_failing_player_is_told_with_its_own_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the player says is passed on."""
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    player(tmp_path, "pw-play", "echo no such card >&2; exit 1")

    assert "no such card" in (play_tone() or "")


def test_stuck_player_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A device in use holds nobody up for ever."""
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    monkeypatch.setattr(module, "PLAY_LIMIT_S", 0.1)
    player(tmp_path, "pw-play", "exec sleep 5")

    assert "in use" in (play_tone() or "")


def test_a_named_player_counts(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """With its options; one that is not there, or none at all, is told with what to install."""
    assert find_player("sh -c true") == ["sh", "-c", "true"]
    monkeypatch.setenv("PATH", str(tmp_path))
    for named in ("nonsense", None):
        with pytest.raises(CommandError, match="alsa-utils") as caught:
            find_player(named)
        assert caught.value.code == BAD_ARGUMENTS


def test_a_sound_in_memory_is_read_as_often_as_one_likes() -> None:
    """From its beginning each time, and gone afterwards."""
    with held_in_memory(b"heard") as (path, _):
        assert [Path(path).read_bytes() for _ in range(2)] == [b"heard"] * 2
    assert not Path(path).exists()
