"""Who else can be heard: sounders that ask what should sound, and what they say of themselves; pure."""

from dataclasses import dataclass

LOST_S = 30.0
"""A sounder asks every 2 s: one that has not asked for so long is lost (starting value)."""
MOST_VOICES = 16


@dataclass(slots=True)
class Voice:
    """One sounder: when it asked last (host seconds), and what is wrong with it, None while it works."""

    asked_s: float
    error: str | None


class Voices:
    """All sounders that asked since the start; what asks under a new name beyond the most is counted as refused."""

    def __init__(self) -> None:
        self._voices: dict[str, Voice] = {}
        self.refused = 0

    def hear(self, name: str, error: str | None, now_s: float) -> None:
        """Note that sounder `name` asked."""
        if name not in self._voices and len(self._voices) >= MOST_VOICES:
            self.refused += 1
            return
        self._voices[name] = Voice(now_s, error)

    def forget(self) -> None:
        """Forget those that are gone: a new firing begins with who is there."""
        self._voices.clear()

    def states(self, now_s: float) -> dict[str, str]:
        """Return by name "working", what is wrong, or that it is lost."""
        return {
            name: f"not heard for {LOST_S:.0f} s" if now_s - voice.asked_s >= LOST_S else voice.error or "working"
            for name, voice in self._voices.items()
        }

    def trouble(self, now_s: float) -> str | None:
        """Return in words which sounders cannot be relied on, None where all can or there is none."""
        bad = [f"{name}: {state}" for name, state in sorted(self.states(now_s).items()) if state != "working"]
        return "; ".join(bad) or None
