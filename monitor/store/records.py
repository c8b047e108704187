"""What goes into the store and comes out of it, beside the records that everyone knows."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from monitor.model import Alarm, Scan, ScanBlock, Temperatures

Convert = Callable[[ScanBlock], Temperatures]


@dataclass(frozen=True, slots=True)
class SiteConversion:
    """How the site's sensors become temperatures: `inputs` (S,) are their full input names in the site's order.

    `convert` must treat each scan by itself. `key` names everything that decides a temperature (letters, corrections,
    inputs, version of the functions): what was derived under another key is derived anew from the raw emf.
    """

    key: str
    inputs: tuple[str, ...]
    convert: Convert


@dataclass(frozen=True, slots=True)
class Firing:
    """One firing; its id is its UTC start (`20261124T2236Z`), `site` the site file's text as it was at the start."""

    id: str
    begun: float
    ended: float | None
    kiln: str
    site: str


@dataclass(frozen=True, slots=True)
class StoredScan:
    """A scan as it was accepted: `row` counts all scans of the store in order of arrival, from 1, with gaps.

    `clock` is the record clock at arrival, `late` that it came too late to be judged.
    """

    row: int
    scan: Scan
    clock: float
    late: bool


class ChangedAlarm(Protocol):
    """A line for the alarm journal as the alarm room words it."""

    @property
    def key(self) -> str:
        """Return the alarm's key."""

    @property
    def change(self) -> str:
        """Return what changed."""

    @property
    def time(self) -> float:
        """Return when, epoch seconds."""

    @property
    def who(self) -> str | None:
        """Return by whom; None by itself."""

    @property
    def alarm(self) -> Alarm:
        """Return the alarm after the change."""


@dataclass(frozen=True, slots=True)
class JournalLine:
    """One stored line of the alarm journal: what changed, when, by whom (None: by itself), and the alarm after it."""

    key: str
    change: str
    time: float
    who: str | None
    alarm: Alarm


@dataclass(frozen=True, slots=True)
class StateSnapshot:
    """The pipeline's own state in its own form, after all scans up to `row`, when the clock said `clock`."""

    row: int
    clock: float
    state: bytes


@dataclass(frozen=True, slots=True)
class Committed:
    """Everything with a row or ticket up to these is on disk (or was dropped and counted)."""

    row: int
    ticket: int


@dataclass(frozen=True, slots=True)
class WriterStatus:
    """How the writer stands. `error` is None while all is well, else words for `/healthz`.

    `waiting` counts records not yet on disk, `dropped_scans` and `dropped_records` what a full backlog had to give up.
    `commit_s` is how long the last commit took, `sealed_blocks` how many were sealed since the start.
    """

    error: str | None
    committed_row: int
    waiting: int
    dropped_scans: int
    dropped_records: int
    failed_commits: int
    commit_s: float
    sealed_blocks: int


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """Lowest and highest temperature per column of time: column i is [begin + i * step_s, begin + (i + 1) * step_s).

    `low`, `high` (S, columns) float32 degC, NaN where nothing valid was measured. `damaged_blocks` are missing in it.
    """

    begin: float
    step_s: float
    low: npt.NDArray[np.float32]
    high: npt.NDArray[np.float32]
    damaged_blocks: tuple[int, ...] = ()
