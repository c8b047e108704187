"""Reads the node's lines with CPython's own zlib and json, apart from the firmware and from the service."""

import json
import re
import zlib
from fractions import Fraction

LINE = re.compile(rb"^(\[.*\]) ([0-9a-f]{8})\n$")


def read_pack(line):
    """Check form and CRC-32 of one whole line and return its records, numbers as exact fractions."""
    match = LINE.match(line)
    assert match, line
    packed, checksum = match.groups()
    assert zlib.crc32(packed) == int(checksum, 16), line
    return json.loads(packed, parse_float=Fraction, parse_int=Fraction)


def by_name(line):
    """Return {name: value} of one line's records."""
    return {record["n"]: record.get("v", record.get("vs")) for record in read_pack(line)}
