"""Findings as lines of JSON, in the one order that does not depend on how they were found."""

import json
from collections.abc import Iterable, Iterator
from typing import Any

from monitor.model import Finding, FindingKind


def finding_lines(findings: Iterable[Finding]) -> Iterator[str]:
    """Yield one JSON object a line, ordered by time, then kind, sensor, fault, state; `measure` has four digits."""
    for finding in sorted(findings, key=_order):
        yield json.dumps(_as_object(finding)) + "\n"


def _order(finding: Finding) -> tuple[float, str, str, str, str]:
    return (finding.time, finding.kind, finding.sensor or "", finding.fault or "", finding.state)


def _as_object(finding: Finding) -> dict[str, Any]:
    line: dict[str, Any] = {
        "time": finding.time,
        "kind": finding.kind,
        "state": finding.state,
        "sensor": finding.sensor,
        "onset": finding.onset,
        "measure": None if finding.measure is None else float(f"{finding.measure:.4g}"),
        "unit": finding.unit,
        "text": finding.text,
    }
    if finding.kind is FindingKind.SENSOR:
        line["fault"] = finding.fault
    if finding.kind is FindingKind.STOKE:
        line["door"] = finding.door
    if finding.kind is FindingKind.RHYTHM:
        line["ratio"] = finding.ratio
    if finding.confidence is not None:
        line["confidence"] = finding.confidence
    return line
