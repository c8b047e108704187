"""Doors that stand open for seconds: the share of a step that each of them was open."""


class Doors:
    """The stoke door (zone 0) and the side ports, each opened for a while from the beginning of a step on."""

    def __init__(self, zones: int) -> None:
        self._until_h = [0.0] * zones

    def open(self, zone: int, hour: float, seconds: float) -> None:
        """Open the door of `zone` at `hour` for `seconds`; one that is open already stays open at least as long."""
        self._until_h[zone] = max(self._until_h[zone], hour + seconds / 3600.0)

    def shares(self, hour: float, step_s: float) -> list[float]:
        """Return what share of the step of `step_s` that begins at `hour` each door is open, one per zone."""
        return [min(max((until_h - hour) * 3600.0 / step_s, 0.0), 1.0) for until_h in self._until_h]
