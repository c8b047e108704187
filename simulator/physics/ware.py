"""Ware: heat it holds, water that leaves it, and quartz that turns.

An enthalpy method: each zone's ware holds C T plus what its changes have taken. A change is spread over a range of
temperature by a smooth step. Pore water and the clay's bound water leave for good: their change follows the highest
temperature so far. Quartz turns back on cooling. What heat came in is known exactly, the temperature is solved for it,
so that heat is conserved to rounding.
"""

from collections.abc import Sequence
from dataclasses import dataclass

PORE_WATER_C = (70.0, 130.0)
"""Pore water leaves (from memory: free water to about 120 to 150 degC; most near the boiling point)."""
BOUND_WATER_C = (450.0, 600.0)
"""The clay's bound water leaves (from memory)."""
QUARTZ_C = (563.0, 583.0)
"""Quartz turns at 573 degC (Dodd and Murfin, Dictionary of Ceramics); ten degrees either side for a whole stack."""
PORE_WATER_J_KG = 2.443e6
"""Heat to evaporate a kilogram of water at 25 degC (EN ISO 18125 form)."""
CLAY_J_KG = 0.65e6
"""Heat that drives the bound water out of a kilogram of kaolinite, steam included (from memory: 0.5e6 to 1.0e6)."""
CLAY_WATER_KG_KG = 0.1395
"""Bound water of kaolinite, two of H2O (36.03) in a mole of 258.2 g."""
QUARTZ_J_KG = 12.0e3
"""Heat of the turn of quartz from low to high (from memory: 0.7 kJ/mol and the rise before it)."""
CLOSE_ENOUGH_J = 1e-6
MOST_TRIES = 50


@dataclass(frozen=True, slots=True)
class Change:
    """Something that takes `heat_j` between `low_c` and `high_c` and gives off `water_kg`, for good or not."""

    low_c: float
    high_c: float
    heat_j: float
    water_kg: float
    is_for_good: bool

    def done(self, celsius: float) -> float:
        """Return the share of it that is done at `celsius`."""
        x = min(max((celsius - self.low_c) / (self.high_c - self.low_c), 0.0), 1.0)
        return x * x * (3.0 - 2.0 * x)

    def slope_j_k(self, celsius: float) -> float:
        """Return the heat in J that the next degree takes for it."""
        width = self.high_c - self.low_c
        x = (celsius - self.low_c) / width
        return self.heat_j * 6.0 * x * (1.0 - x) / width if 0.0 < x < 1.0 else 0.0


def changes_of(pore_water_kg: float, clay_kg: float, quartz_kg: float) -> tuple[Change, ...]:
    """Return the changes of ware that holds so much pore water, kaolinite and quartz; none of what it does not hold."""
    found = (
        Change(*PORE_WATER_C, pore_water_kg * PORE_WATER_J_KG, pore_water_kg, is_for_good=True),
        Change(*BOUND_WATER_C, clay_kg * CLAY_J_KG, clay_kg * CLAY_WATER_KG_KG, is_for_good=True),
        Change(*QUARTZ_C, quartz_kg * QUARTZ_J_KG, 0.0, is_for_good=False),
    )
    return tuple(change for change in found if change.heat_j > 0.0)


@dataclass(frozen=True, slots=True)
class Settled:
    """Ware after it took some heat: degC, steam given off in kg, and the heat in J that went for good with it."""

    celsius: float
    steam_kg: float
    dried_j: float


class Ware:
    """The ware of one zone, of heat capacity `capacity_j_k`, as warm as `celsius` and never warmer before."""

    def __init__(self, capacity_j_k: float, changes: Sequence[Change], celsius: float) -> None:
        self.capacity_j_k = capacity_j_k
        self.highest_c = celsius
        self._changes = tuple(changes)

    @property
    def can_change(self) -> bool:
        """Whether anything in it ever changes."""
        return bool(self._changes)

    def is_changing(self, one_c: float, other_c: float) -> bool:
        """Return whether between the two temperatures a change goes on, or would if it got warmer."""
        for change in self._changes:
            is_within = (one_c > change.low_c or other_c > change.low_c) and (
                one_c < change.high_c or other_c < change.high_c
            )
            if is_within and (not change.is_for_good or self.highest_c < change.high_c):
                return True
        return False

    def apparent_j_k(self, celsius: float) -> float:
        """Return the heat in J that the next degree above `celsius` takes, changes included."""
        return self.capacity_j_k + sum(
            change.slope_j_k(celsius) for change in self._changes if celsius >= self.highest_c or not change.is_for_good
        )

    def reversible_j(self, celsius: float) -> float:
        """Return the heat in J that changes took at `celsius` and will give back."""
        return sum(c.heat_j * c.done(celsius) for c in self._changes if not c.is_for_good)

    def settle(self, old_c: float, heat_j: float, guess_c: float) -> Settled:
        """Take `heat_j` at `old_c`; the answer lies near `guess_c`."""
        had_j = self._held_j(old_c)
        celsius = guess_c
        for _ in range(MOST_TRIES):
            left_j = self._held_j(celsius) - had_j - heat_j
            if abs(left_j) < CLOSE_ENOUGH_J:
                break
            celsius -= left_j / self.apparent_j_k(celsius)
        highest_c = max(self.highest_c, celsius)
        steam_kg = dried_j = 0.0
        for change in self._changes:
            if change.is_for_good:
                more = change.done(highest_c) - change.done(self.highest_c)
                steam_kg += more * change.water_kg
                dried_j += more * change.heat_j
        self.highest_c = highest_c
        return Settled(celsius, steam_kg, dried_j)

    def _held_j(self, celsius: float) -> float:
        """Return the heat in J held at `celsius`, with what changes took on the way to the highest so far."""
        held_j = self.capacity_j_k * celsius
        for change in self._changes:
            done = change.done(max(celsius, self.highest_c) if change.is_for_good else celsius)
            held_j += change.heat_j * done
        return held_j
