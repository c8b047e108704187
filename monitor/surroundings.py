"""What a running service stands in: what this run is, and the ways in and out as the service needs them."""

from collections import Counter
from dataclasses import dataclass
from typing import Protocol

from monitor.clock import RecordClock
from monitor.pipeline import Outcome
from monitor.present import Present
from monitor.publish.messages import AlarmLine


@dataclass(frozen=True, slots=True)
class Occasion:
    """What this run is: "simulator" or "replay" for a test, and kiln seconds per second."""

    test: str | None = None
    speed: float = 1.0


class Showing(Protocol):
    """What the ways out may ask of the service that tells them something."""

    clock: RecordClock
    present: Present

    def alarm_lines(self) -> list[AlarmLine]:
        """Return every alarm as it is told now."""


class Ways(Protocol):
    """The ways in and out, as the service needs them."""

    @property
    def broker_connected(self) -> bool | None:
        """Whether a broker takes what is published, None without one."""

    @property
    def broker_error(self) -> str | None:
        """Why nothing reaches the broker, None while it does or where there is none."""

    def source_errors(self) -> dict[str, str | None]:
        """Return why each source delivers nothing, None while it works."""

    def counts(self) -> Counter[str]:
        """Return what sources and ways out count."""

    def send_alive(self, known: dict[str, tuple[str | None, int]]) -> None:
        """Tell each node up to which scan, by boot and seq, everything is kept."""

    def tell(self, outcome: Outcome, live: Showing) -> None:
        """Pass on what happened to whoever else listens."""
