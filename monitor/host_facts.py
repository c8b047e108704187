"""What the host can know of itself: room on the disk, its own heat, and whether its clock was set."""

import shutil
from dataclasses import replace
from pathlib import Path

from monitor.alarms.records import Host
from monitor.clock import host_seconds, wall_seconds

LOOK_EVERY_S = 30.0
STEP_S = 2.0
TOLD_FOR_S = 600.0
HEAT_FILE = Path("/sys/class/thermal/thermal_zone0/temp")


class HostFacts:
    """Looks at the host now and then; what it cannot look at stays None.

    Args:
        data: the folder in which firings are kept.
        heat_file: where the system tells the heat of its processor, in thousandths of a degree Celsius.
    """

    def __init__(self, data: Path, heat_file: Path = HEAT_FILE) -> None:
        self._data = data
        self._heat_file = heat_file
        self._looked_s: float | None = None
        self._offset_s = wall_seconds() - host_seconds()
        self._stepped_s: float | None = None
        self._host = Host()

    def look(self) -> Host:
        """Return what is known now; disk and heat are asked every half minute, the clock each time."""
        now_s = host_seconds()
        if self._looked_s is None or now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = now_s
            self._host = Host(free_bytes=self._free_bytes(), host_c=self._heat_c())
        return replace(self._host, clock_error=self._clock_error(now_s))

    def _free_bytes(self) -> float | None:
        there = next((p for p in (self._data, *self._data.absolute().parents) if p.exists()), None)
        try:
            return None if there is None else float(shutil.disk_usage(there).free)
        except OSError:
            return None

    def _heat_c(self) -> float | None:
        try:
            return int(self._heat_file.read_text(encoding="ascii")) / 1000.0
        except (OSError, ValueError):
            return None

    def _clock_error(self, now_s: float) -> str | None:
        """Tell of a step of the machine's clock for a while; intervals and record time do not follow it."""
        offset_s = wall_seconds() - now_s
        step_s = offset_s - self._offset_s
        if abs(step_s) <= STEP_S:
            self._stepped_s = None
            self._offset_s = offset_s  # a clock that is slewed
            return None
        self._stepped_s = now_s if self._stepped_s is None else self._stepped_s
        if now_s - self._stepped_s >= TOLD_FOR_S:
            self._offset_s = offset_s
        return f"The host's clock was set {'forward' if step_s > 0.0 else 'back'} while the service ran."
