"""Packs on a serial line, and the host's word back to the node.

A line is the pack, one space, the CRC-32 of the pack's bytes (the one of ISO-HDLC, as in zlib) as eight lower-case hex
digits, and a newline; 16,384 bytes at most, newline included. A line that is longer or has no right CRC is counted and
dropped, never guessed at; reading goes on behind the next newline.
"""

import re
from dataclasses import dataclass
from typing import Final
from zlib import crc32

MAX_LINE_BYTES: Final = 16_384
_CRC_DIGITS: Final = re.compile(rb" [0-9a-f]{8}")


@dataclass(slots=True)
class LineCounts:
    """What became of the lines so far; `cut` are lines whose end never came because the port went away."""

    good: int = 0
    too_long: int = 0
    no_crc: int = 0
    bad_crc: int = 0
    cut: int = 0


class LineReader:
    """Bytes in as they come, complete payloads out; memory stays within one line and one block of bytes."""

    def __init__(self) -> None:
        self.counts = LineCounts()
        self._kept = bytearray()
        self._is_overlong = False

    def feed(self, block: bytes) -> list[bytes]:
        """Return the payloads of the good lines that `block` completes."""
        pieces = block.split(b"\n")
        payloads = []
        for piece in pieces[:-1]:
            payload = self._end_line(piece)
            if payload is not None:
                payloads.append(payload)
        self._keep(pieces[-1])
        return payloads

    def drop_partial(self) -> None:
        """Forget a line whose end will not come; what follows begins anew."""
        if self._kept and not self._is_overlong:
            self.counts.cut += 1
        self._kept.clear()
        self._is_overlong = False

    def _keep(self, piece: bytes) -> None:
        if self._is_overlong:
            return
        self._kept += piece
        if len(self._kept) >= MAX_LINE_BYTES:
            self.counts.too_long += 1
            self._is_overlong = True
            self._kept.clear()

    def _end_line(self, piece: bytes) -> bytes | None:
        self._keep(piece)
        if self._is_overlong:
            self._is_overlong = False
            return None
        line = bytes(self._kept).removesuffix(b"\r")  # some terminals write a return before each newline
        self._kept.clear()
        return self._checked(line)

    def _checked(self, line: bytes) -> bytes | None:
        if not _CRC_DIGITS.fullmatch(line[-9:]):
            self.counts.no_crc += 1
            return None
        payload = line[:-9]
        if crc32(payload) != int(line[-8:], 16):
            self.counts.bad_crc += 1
            return None
        self.counts.good += 1
        return payload


def frame_line(payload: bytes) -> bytes:
    """Return the line that carries `payload`.

    Raises:
        ValueError: the payload holds a newline or makes the line longer than `MAX_LINE_BYTES`.
    """
    line = b"%s %08x\n" % (payload, crc32(payload))
    if b"\n" in payload or len(line) > MAX_LINE_BYTES:
        raise ValueError(f"a pack of {len(payload)} bytes does not go on one line of {MAX_LINE_BYTES}")
    return line


def alive_line(boot: str | None, seq: int) -> bytes:
    """Return the heartbeat: scans of `boot` up to `seq` are on disk or known to be gone; (None, 0) before the first."""
    return f"alive {'-' if boot is None else boot} {seq}\n".encode("ascii")


def rest_line() -> bytes:
    """Return the word of an orderly stop, which disarms the node's buzzer."""
    return b"rest\n"
