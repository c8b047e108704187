"""`nightstoke alarm-table`: print the shipped alarm table, to adapt it for a site."""

import argparse
import sys

from monitor.exits import DONE
from monitor.tables import shipped_alarms


def run(options: argparse.Namespace) -> int:  # noqa: ARG001 - a command without options
    """Print the table as it comes with the program."""
    sys.stdout.write(shipped_alarms())
    return DONE
