"""Run the panel's own checks, one npm script after the other, with the Node that its build uses."""
# ruff: noqa: INP001 (a program beside the panel, not a package)

import subprocess
import sys

from build_hook import run_node, wheel_node

SCRIPTS = ("format:check", "lint", "order", "types", "test", "budget")

if __name__ == "__main__":
    node, npm = (str(path) for path in wheel_node())
    try:
        for script in SCRIPTS:
            run_node([node, npm], [npm, "run", script])
    except subprocess.CalledProcessError as error:
        sys.exit(error.returncode)
