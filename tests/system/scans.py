"""Site files and scans for the tests of the whole service, written after the wire contract and by none of its code."""

import json
from collections.abc import Sequence
from pathlib import Path
from zlib import crc32

BOOT = "9f3ac2d1"
COLD_JUNCTION_C = 24.8125
TURN_SEQ = 1500
"""Number of the scan from which the kiln falls."""


def site_text(device: Path | str | None, inputs: int = 2, *, more: str = "", node: str = "shed-1") -> str:
    """Return a site file of `inputs` type-K sensors on one serial device; `more` is added at the end."""
    text = '[kiln]\nname = "Night kiln"\ntime_zone = "Europe/Lisbon"\n'
    if device is not None:
        text += f'[[source]]\nkind = "serial"\ndevice = "{device}"\n'
    places = ("firebox", "front", "middle", "back", "flue")
    for number in range(1, inputs + 1):
        place = places[number % len(places)]
        text += f'[[sensor]]\nid = "s{number}"\ninput = "{node}/t{number}"\ntype = "K"\nplace = "{place}"\n'
    return text + more


def pack(seq: int, at: float, emf_volts: Sequence[float], *, boot: str = BOOT, oldest: int | None = 0) -> bytes:
    """Return the pack of one scan of node `shed-1`, each input with its emf and one cold junction."""
    records: list[dict[str, object]] = [{"bn": "shed-1/", "bt": round(at, 3), "n": "boot", "vs": boot}]
    for number, emf in enumerate(emf_volts, start=1):
        records.append({"n": f"t{number}/emf", "u": "V", "v": round(emf, 9)})
        records.append({"n": f"t{number}/cj", "u": "Cel", "v": COLD_JUNCTION_C})
    records.append({"n": "seq", "u": "count", "v": seq})
    if oldest is not None:
        records.append({"n": "oldest", "u": "count", "v": oldest})
    return json.dumps(records, separators=(",", ":")).encode()


def line(payload: bytes) -> bytes:
    """Return the serial line that carries a pack."""
    return b"%s %08x\n" % (payload, crc32(payload))


def scan_line(seq: int, at: float, inputs: int = 2, *, boot: str = BOOT, oldest: int | None = 0) -> bytes:
    """Return the line of one scan: about 800 degC, 100 degC/h up by the scan for 25 min, then 300 degC/h down."""
    degrees = seq / 36 if seq < TURN_SEQ else TURN_SEQ / 36 - (seq - TURN_SEQ) / 12
    emf_volts = [0.033 + 4e-5 * degrees + 1e-4 * i for i in range(inputs)]
    return line(pack(seq, at, emf_volts, boot=boot, oldest=oldest))
