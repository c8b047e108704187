"""The document knows every fault of the line."""

from pathlib import Path

import pytest

from simulator.script.line_faults import LineFault

MODEL = (Path(__file__).resolve().parents[3] / "simulator" / "MODEL.md").read_text(encoding="utf-8")
LINE = MODEL.partition("\n## Line\n")[2].partition("\n## ")[0]


@pytest.mark.parametrize("fault", LineFault)
def test_every_fault_is_explained(fault: LineFault) -> None:
    """What is done stands in the table."""
    named = [name for row in LINE.splitlines() if row.startswith("| ") for name in row.split("|")[1].split(",")]

    assert fault.value in [name.strip() for name in named]
