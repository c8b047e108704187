"""The demo's own steps; the whole of it runs in tests/system."""

import argparse
from pathlib import Path

import pytest

from monitor.demo import _training, run
from monitor.exits import BAD_ARGUMENTS, CommandError


def options(tmp_path: Path, **changes: object) -> argparse.Namespace:
    """Return the demo's options with a free port."""
    known: dict[str, object] = {
        "data": str(tmp_path / "data"), "scenario": "night-watch", "stage": "high-fire", "seed": 1, "speed": 60.0,
        "lead_in": 0.0, "host": "127.0.0.1", "port": 0,
    }  # fmt: skip
    return argparse.Namespace(**{**known, **changes})


def test_unknown_scenario_is_told_in_the_simulators_words(tmp_path: Path) -> None:
    """The message names what there is."""
    with pytest.raises(CommandError, match="night-watch") as caught:
        run(options(tmp_path, scenario="picnic"))

    assert caught.value.code == BAD_ARGUMENTS


def test_nothing_is_left_behind_by_a_demo_that_cannot_listen(tmp_path: Path) -> None:
    """The simulator ends with it, and no store was made."""
    with pytest.raises(CommandError, match=r"192\.0\.2\.1"):
        run(options(tmp_path, host="192.0.2.1"))

    assert not (tmp_path / "data").exists()


def test_a_folder_with_too_long_a_name_leaves_the_practice_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Unix sockets have short names; the demo runs all the same and says so."""
    deep = tmp_path / ("x" * 100)

    assert _training(Path("/tmp/short")) == Path("/tmp/short/training")
    assert _training(deep) is None
    assert "too long a name for a socket" in capsys.readouterr().err
