"""What is heard: three patterns for alarms and one for a prompt, as WAV.

Pulsed, with their energy below 1500 Hz and overtones up to 2.5 kHz (ISO 7731, from a summary); the same as the panel's.
Levels and lengths are own starting values. Standard library only: this runs in a small process of its own.
"""

import array
import io
import math
import wave
from dataclasses import dataclass
from enum import StrEnum

RATE_HZ = 16_000
FADE_S = 0.02
USUAL_LEVEL = 0.5
"""-6 dB: what is carried on because nobody has seen it must be louder than what has just begun."""


class Pattern(StrEnum):
    """What may sound."""

    FIRST = "first"
    SECOND = "second"
    THIRD = "third"


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone of a pattern: when it begins, how long, how high, and the levels of it and its overtones."""

    at_s: float
    length_s: float
    hertz: float
    levels: tuple[float, ...]


_RICH = (0.55, 0.3, 0.15)
_TWO = (
    Tone(0.0, 0.45, 660.0, _RICH),
    Tone(0.5, 0.45, 880.0, (0.65, 0.2)),
)
_TONES = {
    Pattern.FIRST: tuple(Tone(t.at_s + second, t.length_s, t.hertz, t.levels) for second in range(10) for t in _TWO),
    Pattern.SECOND: tuple(Tone(at_s, 0.4, 700.0, (0.6, 0.2)) for at_s in (0.0, 0.6, 1.2)),
    Pattern.THIRD: (Tone(0.0, 0.6, 520.0, (0.35,)),),
}
PERIOD_S = {Pattern.FIRST: 10.0, Pattern.SECOND: 10.0, Pattern.THIRD: 30.0}
"""How often a pattern begins anew; that of the first priority holds ten rounds of two tones."""


def wav_of(pattern: Pattern, *, louder: bool) -> bytes:
    """Return one period of `pattern`, without the silence at its end, as a mono WAV of 16-bit samples."""
    tones = _TONES[pattern]
    length = math.ceil(max(t.at_s + t.length_s for t in tones) * RATE_HZ)
    samples = array.array("h", bytes(2 * length))
    scale = 32767.0 * (1.0 if louder else USUAL_LEVEL)
    for tone in tones:
        begin, count = round(tone.at_s * RATE_HZ), round(tone.length_s * RATE_HZ)
        for i in range(min(count, length - begin)):
            samples[begin + i] = round(scale * _sample(tone, i, count))
    kept = io.BytesIO()
    with wave.open(kept, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(samples.tobytes())
    return kept.getvalue()


def _sample(tone: Tone, i: int, count: int) -> float:
    """Return sample `i` of `count` of a tone, faded in and out so that it does not click."""
    fade = FADE_S * RATE_HZ
    edge = min(1.0, i / fade, (count - 1 - i) / fade)
    angle = 2.0 * math.pi * tone.hertz * i / RATE_HZ
    return edge * sum(level * math.sin(angle * (n + 1)) for n, level in enumerate(tone.levels))
