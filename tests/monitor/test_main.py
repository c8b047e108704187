"""`python -m monitor` is the command."""

import subprocess
import sys
from importlib.metadata import version


def test_module_runs_the_command_line() -> None:
    """The same program as the installed command, with the version of the distribution."""
    done = subprocess.run([sys.executable, "-m", "monitor", "--version"], capture_output=True, text=True, check=False)

    assert done.returncode == 0
    assert done.stdout == f"nightstoke {version('nightstoke')}\n"
