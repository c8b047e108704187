"""The host's own voice: for now one test tone through the system's player, so that `check` can be heard."""

import math
import shutil
import struct
import subprocess
import tempfile
import wave
from pathlib import Path

PLAYERS = (("pw-play",), ("paplay",), ("aplay", "-q"))
RATE_HZ = 16_000
PLAY_LIMIT_S = 10.0

# Two alternating tones with overtones, half a second each: low enough to carry, rich enough to be noticed.
TONES_HZ = (660.0, 880.0, 660.0, 880.0)
TONE_S = 0.5
OVERTONES = (1.0, 0.5, 0.25)
LOUDNESS = 0.5
FADE_S = 0.01


def tone_samples() -> list[int]:
    """Return the test tone as 16-bit samples at `RATE_HZ`."""
    count = int(TONE_S * RATE_HZ)
    fade = int(FADE_S * RATE_HZ)
    scale = LOUDNESS * 32767.0 / sum(OVERTONES)
    samples: list[int] = []
    for hertz in TONES_HZ:
        for i in range(count):
            edge = min(1.0, i / fade, (count - 1 - i) / fade)
            angle = 2.0 * math.pi * hertz * i / RATE_HZ
            level = sum(part * math.sin(angle * (n + 1)) for n, part in enumerate(OVERTONES))
            samples.append(round(scale * edge * level))
    return samples


def write_tone(path: Path) -> None:
    """Write the test tone as a mono WAV file."""
    samples = tone_samples()
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(struct.pack(f"<{len(samples)}h", *samples))


def play_tone() -> str | None:
    """Play the test tone through the first player there is; return what went wrong and what to do, or None."""
    player = next((p for p in PLAYERS if shutil.which(p[0])), None)
    if player is None:
        names = ", ".join(p[0] for p in PLAYERS)
        return f"no sound player found (looked for {names}); on Debian: apt-get install alsa-utils"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "tone.wav"
        write_tone(path)
        try:
            done = subprocess.run(  # noqa: S603 - a fixed list of programs
                [*player, str(path)], capture_output=True, text=True, timeout=PLAY_LIMIT_S, check=False
            )
        except subprocess.TimeoutExpired:
            return f"{player[0]} did not end within {PLAY_LIMIT_S:.0f} s; is the sound device in use?"
    if done.returncode != 0:
        reason = done.stderr.strip().splitlines()
        return f"{player[0]} failed: {reason[-1] if reason else done.returncode}; plug in a speaker or USB sound card"
    return None
