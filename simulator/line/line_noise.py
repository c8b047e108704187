"""What comes over a line and is no scan: bytes without form, and packs of good form with impossible content; pure.

Bytes end with a newline, so that they spoil no line but their own.
"""

import heapq
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from simulator.line.line_spells import LineSpells
from simulator.script.line_faults import LineFault

ENDLESS_BYTES = 1_000_000
"""The first burst of a spell: so many bytes without a newline."""
LONGEST_BURST = 600
STRAY = (b"\x00" * 40, b"\x03" * 8, b"alive - 0", b"[{", b"\r\r\r")
"""What is mixed among the random bytes: NUL, Ctrl-C, the host's own words come back, a line cut off, returns."""


@dataclass(frozen=True, slots=True)
class Noise:
    """Bytes that are no scan; `is_pack` where they are to be sent as a pack is, with a right CRC on a serial line."""

    payload: bytes
    is_pack: bool


def noises(spells: LineSpells, *, node: str, seed: int) -> Iterator[tuple[float, Noise]]:
    """Yield the line's noise with its kiln times, in order."""
    garbage = [
        _garbage(begin, end, size, np.random.default_rng([seed, 35, i]))
        for i, (begin, end, size) in enumerate(spells.of(LineFault.GARBAGE))
    ]
    absurd = [_absurd(*spell, node) for spell in spells.of(LineFault.ABSURD)]
    return heapq.merge(*garbage, *absurd, key=lambda timed: timed[0])


def absurd_packs(node: str, at: float) -> list[bytes]:
    """Return packs that no node can mean, around epoch second `at`; each must be refused whole."""
    named = f'"bn":"{node}/","bt":{at:.0f}'
    bodies = (
        f'[{{{named},"n":"t1/emf","u":"V","v":NaN}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":1e400}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":-Infinity}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":true}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":"0.03"}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":33.2}}]',
        f'[{{{named},"n":"t1/emf","u":"mV","v":0.03}}]',
        f'[{{{named},"n":"t1/cj","u":"Cel","v":-400}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":0.03}},{{"n":"seq","u":"count","v":-1}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":0.03}},{{"n":"seq","u":"count","v":1.5}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":0.03}},{{"n":"boot","vs":"two words"}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":0.03}},{{"n":"t1/emf","u":"V","v":0.04}}]',
        f'[{{{named},"n":"t1/emf","u":"V","v":0.03,"must_":1}}]',
        f'[{{"bn":"{node}/","bt":1e300,"n":"t1/emf","u":"V","v":0.03}}]',
        f'[{{"bn":"host/","bt":{at:.0f},"n":"t1/emf","u":"V","v":0.03}}]',
        f'[{{{named},"n":"t1/emf","u":"V"}}]',
        f'{{{named},"n":"t1/emf","u":"V","v":0.03}}',
        "[" * 16_000,
        '[{"bn":"' + "n" * 15_000 + '/","n":"t1/emf","v":0.03}]',
        "null",
    )
    return [body.encode() for body in bodies]


def _absurd(begin: float, end: float, a_minute: float, node: str) -> Iterator[tuple[float, Noise]]:
    turn = 0
    while (at := round(begin + turn * 60.0 / a_minute, 3)) < end:
        packs = absurd_packs(node, at)
        yield at, Noise(packs[turn % len(packs)], is_pack=True)
        turn += 1


def _garbage(begin: float, end: float, a_minute: float, rng: np.random.Generator) -> Iterator[tuple[float, Noise]]:
    turn = 0
    while (at := round(begin + (turn + rng.random()) * 60.0 / a_minute, 3)) < end:
        length = ENDLESS_BYTES if turn == 0 else int(rng.integers(1, LONGEST_BURST))
        burst = rng.bytes(length) + STRAY[turn % len(STRAY)]
        yield at, Noise(burst.replace(b"\n", b"\x00") + b"\n", is_pack=False)
        turn += 1
