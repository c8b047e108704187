"""The system's player, played by a script: what it gets, when, and what is told of its failures."""

import time
from pathlib import Path

import pytest

import monitor.sounder.player as module
from monitor.sounder.pattern import PERIOD_S, Pattern, wav_of
from monitor.sounder.player import Player

FIRST, SECOND = (Pattern.FIRST, False), (Pattern.SECOND, False)


def script(folder: Path, words: str) -> str:
    """Return a player made of shell words; `$1` is the WAV."""
    path = folder / "player"
    path.write_text(f"#!/bin/sh\n{words}\n")
    path.chmod(0o755)
    return str(path)


def settle(player: Player, wanted: tuple[Pattern, bool] | None, now_s: float) -> None:
    """Play, and let the player's process come to its end."""
    player.play(wanted, now_s)
    time.sleep(0.3)
    player.play(wanted, now_s + 0.1)


def test_a_pattern_sounds_again_each_period(tmp_path: Path) -> None:
    """At once, and not before its period is over; another pattern at once."""
    heard = tmp_path / "heard"
    with Player([script(tmp_path, f'wc -c < "$1" >> {heard}')]) as player:
        settle(player, FIRST, 100.0)
        settle(player, FIRST, 100.0 + PERIOD_S[Pattern.FIRST] - 1.0)
        settle(player, FIRST, 100.0 + PERIOD_S[Pattern.FIRST])
        settle(player, SECOND, 111.0)
        settle(player, None, 112.0)
        settle(player, None, 200.0)

    sizes = [len(wav_of(pattern, louder=False)) for pattern in (Pattern.FIRST, Pattern.FIRST, Pattern.SECOND)]
    assert [int(size) for size in heard.read_text().split()] == sizes
    assert player.error is None


def test_a_player_that_fails_is_told_and_tried_again(tmp_path: Path) -> None:
    """It may work the next time."""
    with Player([script(tmp_path, f"test -e {tmp_path}/card")]) as player:
        settle(player, FIRST, 0.0)
        assert "failed with 1" in (player.error or "")
        (tmp_path / "card").touch()
        settle(player, FIRST, 10.0)
        assert player.error is None


def test_a_player_that_is_gone_is_told(tmp_path: Path) -> None:
    """The vigil goes on without it."""
    with Player([str(tmp_path / "nothing")]) as player:
        player.play(FIRST, 0.0)
        assert "No such file" in (player.error or "")


def test_a_player_that_hangs_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And killed when something else, or nothing, is to be heard."""
    monkeypatch.setattr(module, "HANGS_AFTER_S", 5.0)
    with Player([script(tmp_path, "exec sleep 60")]) as player:
        player.play(FIRST, 0.0)
        player.play(FIRST, 5.0)
        assert "hangs" in (player.error or "")
