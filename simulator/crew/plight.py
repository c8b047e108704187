"""What a crew is up against at a moment: the spells that are on."""

from simulator.script.mishaps import Mishap
from simulator.script.spells import Spell


class Plight:
    """Settled `spells`, asked by kind and hour."""

    def __init__(self, spells: tuple[Spell, ...]) -> None:
        self._spells = spells

    def spell(self, mishap: Mishap, hour: float) -> Spell | None:
        """Return the first spell of this kind that is on."""
        for spell in self._spells:
            if spell.what is mishap and spell.covers(hour):
                return spell
        return None

    def has(self, mishap: Mishap, hour: float) -> bool:
        """Whether one of this kind is on."""
        return self.spell(mishap, hour) is not None

    def size(self, mishap: Mishap, hour: float, otherwise: float) -> float:
        """Return the size of the one that is on, or `otherwise`."""
        spell = self.spell(mishap, hour)
        return otherwise if spell is None else spell.size

    def slowness(self, hour: float) -> float:
        """Return by what mishaps stretch the interval of front stokes; one that drifts has grown evenly so far."""
        drift = self.spell(Mishap.DRIFT, hour)
        grown = 1.0 if drift is None else 1.0 + (drift.size - 1.0) * (hour - drift.begin_h) / drift.hours
        return grown * self.size(Mishap.LATE, hour, 1.0)
