"""Patterns by their spectrum: what a listener would hear, from the WAV alone."""

import io
import wave

import numpy as np
import pytest

from monitor.sounder.pattern import PERIOD_S, RATE_HZ, Pattern, wav_of


def samples_of(pattern: Pattern, *, louder: bool = True) -> np.ndarray:
    """Return the samples of one period."""
    with wave.open(io.BytesIO(wav_of(pattern, louder=louder))) as sound:
        assert (sound.getnchannels(), sound.getsampwidth(), sound.getframerate()) == (1, 2, RATE_HZ)
        return np.frombuffer(sound.readframes(sound.getnframes()), dtype="<i2").astype(float)


def strongest_hertz(samples: np.ndarray, at_s: float, length_s: float) -> float:
    """Return the strongest frequency between two moments."""
    part = samples[round(at_s * RATE_HZ) : round((at_s + length_s) * RATE_HZ)]
    return float(np.abs(np.fft.rfft(part)).argmax() * RATE_HZ / len(part))


@pytest.mark.parametrize(
    ("pattern", "tones"),
    [
        (Pattern.FIRST, [(0.0, 660.0), (0.5, 880.0), (9.0, 660.0), (9.5, 880.0)]),
        (Pattern.SECOND, [(0.0, 700.0), (0.6, 700.0), (1.2, 700.0)]),
        (Pattern.THIRD, [(0.0, 520.0)]),
    ],
)
def test_each_pattern_has_its_tones(pattern: Pattern, tones: list[tuple[float, float]]) -> None:
    """Alternating 660/880 Hz, three pulses of 700 Hz, one soft pulse; nothing clips."""
    samples = samples_of(pattern)

    for at_s, hertz in tones:
        assert abs(strongest_hertz(samples, at_s, 0.4) - hertz) <= 2.5
    assert np.abs(samples).max() < 32767
    assert len(samples) <= PERIOD_S[pattern] * RATE_HZ


def test_energy_lies_below_1500_hertz() -> None:
    """ISO 7731 (from a summary): most of it, so that it carries and is heard by people with hearing loss."""
    power = np.abs(np.fft.rfft(samples_of(Pattern.FIRST))) ** 2
    hertz = np.fft.rfftfreq(len(samples_of(Pattern.FIRST)), 1.0 / RATE_HZ)

    assert power[hertz < 1500.0].sum() > 0.9 * power.sum()


def test_louder_is_twice_as_loud() -> None:
    """6 dB between what has just begun and what nobody has seen."""
    usual, louder = (np.abs(samples_of(Pattern.FIRST, louder=is_louder)).max() for is_louder in (False, True))

    assert louder / usual == pytest.approx(2.0, rel=1e-3)
