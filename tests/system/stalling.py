"""The command line, whose service can be spoilt by a file: its loop stands still, or each second's work fails."""

import os
import sys
import time
from pathlib import Path

from monitor.cli import main
from monitor.live import Live

STALL_S = 60.0

second = Live.second


def spoilt_second(live: Live) -> None:
    """Do what a second asks, unless the test says that it fails; hold everything up where the test says so."""
    how = Path(os.environ["NIGHTSTOKE_SPOIL"])
    word = how.read_text() if how.exists() else ""
    if word == "fail":
        raise ValueError("spoilt by the test")
    second(live)
    if word == "stall":
        time.sleep(STALL_S)


Live.second = spoilt_second  # type: ignore[method-assign]
sys.exit(main())
