"""The command line, whose service can be made to stall: its loop stands still for a minute once a file is there."""

import os
import sys
import time
from pathlib import Path

from monitor.cli import main
from monitor.live import Live

STALL_S = 60.0

second = Live.second


def stalling_second(live: Live) -> None:
    """Do what a second asks, and then hold everything up where the test says so."""
    second(live)
    if Path(os.environ["NIGHTSTOKE_STALL"]).exists():
        time.sleep(STALL_S)


Live.second = stalling_second  # type: ignore[method-assign]
sys.exit(main())
