"""Run the panel's own checks (`npm run check`) with the Node that its build uses."""
# ruff: noqa: INP001 (a program beside the panel, not a package)

import subprocess
import sys

from build_hook import run_node, wheel_node

if __name__ == "__main__":
    node, npm = wheel_node()
    try:
        run_node([str(node), str(npm)], [str(npm), "run", "check"])
    except subprocess.CalledProcessError as error:
        sys.exit(error.returncode)
