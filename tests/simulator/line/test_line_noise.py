"""What a line brings that is no scan."""

from itertools import islice

import pytest

from monitor.wire.line import MAX_LINE_BYTES, LineReader, frame_line
from monitor.wire.pack import PackError, parse_pack
from simulator.line.line_noise import ENDLESS_BYTES, absurd_packs, noises
from simulator.line.line_spells import LineSpells
from simulator.script.line_faults import LineFault
from simulator.script.spells import Spell

LIT = 1_764_000_000.0
ABSURD = absurd_packs("shed-1", LIT)


def _noises(*spells: Spell, seed: int = 1) -> list[tuple[float, bytes, bool]]:
    own = LineSpells(spells, LIT)
    return [(at, noise.payload, noise.is_pack) for at, noise in noises(own, node="shed-1", seed=seed)]


@pytest.mark.parametrize("payload", ABSURD, ids=range(len(ABSURD)))
def test_no_absurd_pack_is_a_scan(payload: bytes) -> None:
    """F39: each is refused whole by the reader of the wire contract, and nothing else is raised."""
    with pytest.raises(PackError):
        parse_pack(payload)


def test_absurd_packs_go_on_a_serial_line() -> None:
    """They come with a right CRC, so that only their content can give them away."""
    assert max(len(frame_line(payload)) for payload in ABSURD) <= MAX_LINE_BYTES


def test_absurd_packs_come_at_their_rate() -> None:
    """Two a minute for three minutes, one kind after the other."""
    found = _noises(Spell(LineFault.ABSURD, 1.0, 0.05, size=2.0))

    assert [at - LIT for at, _, _ in found] == [3600.0 + 30.0 * n for n in range(6)]
    assert all(is_pack for _, _, is_pack in found)
    assert len({payload for _, payload, _ in found}) == 6


def test_garbage_is_no_line_and_ends_with_one() -> None:
    """F38: the first a megabyte without an end, then short bursts; none passes, the line behind each is read."""
    found = _noises(Spell(LineFault.GARBAGE, 1.0, 0.5, size=4.0))
    reader = LineReader()
    good = [reader.feed(burst + frame_line(b"[1]")) for _, burst, _ in found]

    assert good == [[b"[1]"]] * len(found)
    assert len(found) == 120
    assert len(found[0][1]) > ENDLESS_BYTES
    assert all(burst.count(b"\n") == 1 and not is_pack for _, burst, is_pack in found)
    assert any(b"\x00" in burst for _, burst, _ in found[1:])
    assert any(b"\x03" * 8 in burst for _, burst, _ in found)


def test_noise_comes_in_order_and_the_same_for_a_seed() -> None:
    """Of several spells together."""
    spells = (
        Spell(LineFault.GARBAGE, 1.0, 0.1, size=6.0),
        Spell(LineFault.GARBAGE, 1.05, 0.1, size=6.0),
        Spell(LineFault.ABSURD, 1.0, 0.2),
    )
    found = _noises(*spells)

    assert [at for at, _, _ in found] == sorted(at for at, _, _ in found)
    assert found == _noises(*spells)
    assert found != _noises(*spells, seed=2)


def test_an_endless_spell_is_worked_out_as_it_comes() -> None:
    """Only what is asked for."""
    own = LineSpells([Spell(LineFault.GARBAGE, 1.0, 1e9)], LIT)

    assert len(list(islice(noises(own, node="shed-1", seed=1), 3))) == 3
