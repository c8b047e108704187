"""The test tone: what it is made of, and what is said when nobody can play it."""

import wave
from pathlib import Path

import numpy as np
import pytest

from monitor.sounder import tone as sounder
from monitor.sounder.tone import RATE_HZ, TONE_S, TONES_HZ, play_tone, write_tone


def read_tone(path: Path) -> np.ndarray:
    """Return the samples of a WAV file."""
    with wave.open(str(path)) as tone:
        assert tone.getframerate() == RATE_HZ
        return np.frombuffer(tone.readframes(tone.getnframes()), dtype="<i2").astype(float)


def player(folder: Path, name: str, script: str) -> None:
    """Put an executable of that name into a folder."""
    path = folder / name
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)


def test_tone_alternates_between_its_two_notes(tmp_path: Path) -> None:
    """The strongest frequency of each half second is the note it should be; nothing clips."""
    write_tone(tmp_path / "tone.wav")
    samples = read_tone(tmp_path / "tone.wav")
    count = int(TONE_S * RATE_HZ)

    for number, hertz in enumerate(TONES_HZ):
        spectrum = np.abs(np.fft.rfft(samples[number * count : (number + 1) * count]))
        assert abs(spectrum.argmax() * RATE_HZ / count - hertz) <= RATE_HZ / count
    assert np.abs(samples).max() < 32767


def test_tone_reaches_the_player(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system's player gets a file with the tone in it."""
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    player(tmp_path, "pw-play", f'cp "$1" {tmp_path}/heard.wav')

    assert play_tone() is None
    assert len(read_tone(tmp_path / "heard.wav")) == len(TONES_HZ) * int(TONE_S * RATE_HZ)


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
    monkeypatch.setattr(sounder, "PLAY_LIMIT_S", 0.1)
    player(tmp_path, "pw-play", "exec sleep 5")

    assert "in use" in (play_tone() or "")
