"""Records as the statements that store them."""

import hashlib
from datetime import UTC, datetime
from typing import Any

import msgspec

from monitor.model import Arrival, Entry, Finding
from monitor.store.cells import cells_of, encode_cells
from monitor.store.records import ChangedAlarm, Firing, JournalLine

ADD_SCAN = (
    "INSERT INTO tail (row, firing, node, boot, seq, time, clock, late, cells) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
ADD_FIRING = "INSERT INTO firing (id, begun, ended, kiln, site) VALUES (?, ?, ?, ?, ?)"
END_FIRING = "UPDATE firing SET ended = ? WHERE id = ?"
ADD_FINDING = "INSERT OR IGNORE INTO finding (firing, digest, time, record) VALUES (?, ?, ?, ?)"
ADD_ALARM_CHANGE = (
    "INSERT OR IGNORE INTO alarm_change (firing, digest, time, key, change, who, record) VALUES (?, ?, ?, ?, ?, ?, ?)"
)
ADD_ENTRY = "INSERT OR IGNORE INTO entry (firing, name, clock, record) VALUES (?, ?, ?, ?)"
PUT_SNAPSHOT = "INSERT OR REPLACE INTO snapshot (firing, row, clock, state) VALUES (?, ?, ?, ?)"

encode_record = msgspec.json.Encoder().encode
decode_finding = msgspec.json.Decoder(Finding).decode
decode_entry = msgspec.json.Decoder(Entry).decode
decode_journal_line = msgspec.json.Decoder(JournalLine).decode


def scan_values(row: int, firing: str, arrival: Arrival, *, late: bool) -> tuple[Any, ...]:
    """Return the values of `ADD_SCAN`."""
    scan = arrival.scan
    cells = encode_cells(cells_of(scan.readings))
    return row, firing, scan.node, scan.boot, scan.seq, scan.time, arrival.clock, int(late), cells


def finding_values(firing: str, finding: Finding) -> tuple[Any, ...]:
    """Return the values of `ADD_FINDING`; the same finding told again after a restart is the same row."""
    record = encode_record(finding)
    return firing, digest_of(record), finding.time, record.decode()


def alarm_change_values(firing: str, change: ChangedAlarm) -> tuple[Any, ...]:
    """Return the values of `ADD_ALARM_CHANGE`; the same change told again after a restart is the same row."""
    line = JournalLine(change.key, str(change.change), change.time, change.who, change.alarm)
    record = encode_record(line)
    return firing, digest_of(record), line.time, line.key, line.change, line.who, record.decode()


def entry_values(firing: str, entry: Entry) -> tuple[Any, ...]:
    """Return the values of `ADD_ENTRY`; one told again is the same row."""
    return firing, entry.id, entry.clock, encode_record(entry).decode()


def digest_of(record: bytes) -> int:
    """Return 64 bits that name a record, as SQLite's signed integer."""
    return int.from_bytes(hashlib.blake2b(record, digest_size=8).digest(), "big", signed=True)


def firing_id(begun: float, taken: frozenset[str] | set[str]) -> str:
    """Return the id of a firing that begins at epoch seconds `begun`: its UTC minute, numbered where that is taken."""
    plain = datetime.fromtimestamp(begun, UTC).strftime("%Y%m%dT%H%MZ")
    number, name = 1, plain
    while name in taken:
        number += 1
        name = f"{plain}-{number}"
    return name


def firing_values(firing: Firing) -> tuple[Any, ...]:
    """Return the values of `ADD_FIRING`."""
    return firing.id, firing.begun, firing.ended, firing.kiln, firing.site
