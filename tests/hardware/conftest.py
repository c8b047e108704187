"""Makes the firmware's flat files importable and runs them under MicroPython's unix port."""

import json
import platform
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
FIRMWARE = HERE.parents[1] / "hardware" / "node"
sys.path += [str(FIRMWARE), str(HERE)]


@pytest.fixture
def firmware():
    """Return the folder of the firmware's files."""
    return FIRMWARE


@pytest.fixture
def micropython():
    """Return the path of MicroPython's unix port."""
    if platform.machine() != "x86_64":
        pytest.skip(f"MicroPython's unix port comes as a wheel for x86_64 only, this is {platform.machine()}")
    return str(Path(sys.executable).parent / "micropython")


@pytest.fixture
def run_node(micropython):
    """Return a function that runs the firmware to its end and gives its lines and what the board saw."""

    def run(*arguments, heard=b""):
        command = [micropython, str(HERE / "run_node.py"), *arguments]
        done = subprocess.run(command, input=heard, capture_output=True, timeout=30, check=False)
        assert done.returncode == 0, done.stdout[-2000:] + done.stderr
        return done.stdout.splitlines(keepends=True), json.loads(done.stderr)

    return run
