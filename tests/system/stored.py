"""What a data directory holds, got out by the commands a person would use."""

import json
from dataclasses import dataclass
from pathlib import Path

from monitor.findings_file import finding_lines
from monitor.store.opening import open_reader
from tests.system.running import command


@dataclass(frozen=True, slots=True)
class ExportedScan:
    """Identity of one scan of a recording."""

    boot: str
    seq: int
    time: float


def export_scans(data: Path, recording: Path) -> list[ExportedScan]:
    """Export the newest firing to `recording` and return its scans in order, read by no code of the project."""
    done = command("export", "--data", data, recording)
    assert done.returncode == 0, done.stderr
    scans = []
    for text in recording.read_text("utf-8").splitlines():
        records = json.loads(text)
        if records[0]["bn"] != "host/":
            words = {record["n"]: record.get("vs", record.get("v")) for record in records}
            scans.append(ExportedScan(words["boot"], words["seq"], records[0]["bt"]))
    return scans


def replay_findings(recording: Path, site: Path) -> bytes:
    """Replay a recording and return its findings file."""
    out = recording.with_name("findings.jsonl")
    done = command("replay", recording, "--site", site, "--findings", out)
    assert done.returncode == 0, done.stderr
    return out.read_bytes()


def stored_findings(data: Path) -> bytes:
    """Return the findings that the live run stored in the newest firing, as a findings file."""
    reader = open_reader(data)
    try:
        return "".join(finding_lines(reader.findings(reader.firings()[-1].id))).encode()
    finally:
        reader.close()
