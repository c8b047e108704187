"""The layout holds: every file has its test, the documents name what there is, the room table is the import rule."""

import re
import tomllib
from pathlib import Path

import pytest
from fastapi import FastAPI

from monitor.model import FindingKind, SensorFault
from monitor.publish.http_api import build_app
from monitor.publish.messages import AlarmLine, Value
from monitor.publish.metrics import Measures, _Asked
from monitor.site_file import AlarmsPart, BrokerPart, ButtonPart, KilnPart, PanelPart, PlanPart, SensorPart, SourcePart
from monitor.site_people import AgreedPart, CrewPart, EmergencyPart

ROOT = Path(__file__).resolve().parent.parent
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")
RULES = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]

NO_BEHAVIOUR = {
    "monitor/model.py": "records only",
    "monitor/problems.py": "one exception, tested with every file that is checked",
    "monitor/surroundings.py": "one record and two protocols",
    "monitor/exits.py": "numbers and one exception, tested with every command",
    "monitor/alarms/records.py": "records only",
    "monitor/alarms/circumstance.py": "names only",
    "monitor/publish/__init__.py": "a docstring",
    "simulator/spec/crew_spec.py": "records only",
    "simulator/spec/kiln_parts.py": "records only",
    "simulator/script/mishaps.py": "names only",
    "simulator/show/plot_look.py": "colours only",
    "simulator/script/probe_faults.py": "names only",
}
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "monitor", "web", "hardware", "tests", "simulator",
}  # fmt: skip
PARTS = {
    "kiln": KilnPart,
    "source[]": SourcePart,
    "sensor[]": SensorPart,
    "plan": PlanPart,
    "broker": BrokerPart,
    "panel": PanelPart,
    "button[]": ButtonPart,
    "agreed": AgreedPart,
    "crew": CrewPart,
    "emergency": EmergencyPart,
    "alarms": AlarmsPart,
}


def sources() -> list[str]:
    """Return every source file of the two packages, from the root."""
    found = [*ROOT.glob("monitor/**/*.py"), *ROOT.glob("simulator/**/*.py")]
    return sorted(str(path.relative_to(ROOT)) for path in found if path.name != "__init__.py")


@pytest.mark.parametrize("source", [s for s in sources() if s not in NO_BEHAVIOUR])
def test_every_source_file_has_a_test_file_of_its_name(source: str) -> None:
    """tests/ mirrors the rooms; what has no behaviour is listed with the reason."""
    path = Path(source)

    assert (ROOT / "tests" / path.parent / f"test_{path.stem.strip('_')}.py").exists()


def test_top_level_holds_nothing_else() -> None:
    """What is tracked at the top is what the project says it is; dotfiles and tools' folders aside."""
    ignored = {line.strip("/") for line in (ROOT / ".gitignore").read_text().splitlines()}
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - ignored

    assert {name for name in found if not name.endswith(".egg-info")} <= TOP_LEVEL


@pytest.mark.parametrize(
    ("package", "head"), [("monitor", "| row | what it holds | kind |"), ("simulator", "| row | what it holds |\n")]
)
def test_the_room_tables_are_the_import_rules(package: str, head: str) -> None:
    """Same rooms in the same order in the contributors' guide as in the layers that lint-imports enforces."""
    (rule,) = [c for c in RULES if c["type"] == "layers" and c["containers"] == [package]]
    table = DEVELOPERS.partition(head)[2].partition("\n\n")[0]
    rows = [re.findall(r"`(\w+)`", line.split("|")[1]) for line in table.splitlines() if "`" in line]

    assert rows == [re.findall(r"\w+", row) for row in rule["layers"]]


@pytest.mark.parametrize("part", PARTS)
def test_every_site_key_is_explained(part: str) -> None:
    """A person finds each key of the site file in the table."""
    table = DEVELOPERS.partition("## The site file")[2].partition("\n## ")[0]
    (row,) = [line for line in table.splitlines() if line.startswith(f"| `{part}.")]

    assert all(f".{key}`" in row for key in PARTS[part].model_fields)


def test_every_finding_kind_and_sensor_fault_is_explained() -> None:
    """The words of findings are defined."""
    table = DEVELOPERS.partition("### Findings")[2].partition("\n## ")[0]

    assert all(f"`{word}`" in table for word in [*FindingKind, *SensorFault])


def test_every_metric_is_named() -> None:
    """Whoever collects them finds them listed."""
    value = Value("middle", 1.0, "ok", "good", 0.1, 1.0, 1.0)
    alarm = AlarmLine("fall", "temperature-falling", 1, True, False, False, 0, 0, None, None, "", "", "", "", "", 1)
    one = {"x": 1}
    measures = Measures(
        version="1", kiln="k", values=(value,), node_age_s={"n": 1.0}, last_scan=1.0, alarms=(alarm,),
        lines_dropped=one, scans=one, frames=one, messages=one, events=one, sources={"s": True}, broker_connected=True,
    )  # fmt: skip

    names = {family.name for family in _Asked(measures).collect()}
    assert {name for name in names if f"`{name}`" not in DEVELOPERS} == set()


def test_every_endpoint_is_named() -> None:
    """The HTTP interface is in the documents, not only in its own description."""
    app: FastAPI = build_app(_Nobody(), _Nobody(), names=frozenset(), panel=None, version="1")  # type: ignore[arg-type]
    paths = {route.path for route in app.routes if hasattr(route, "path")}

    assert {path for path in paths if f"`{path}`" not in DEVELOPERS} == set()


class _Nobody:
    """Stands for a service that is never asked."""

    def count_refused(self) -> None:
        """Count nothing."""


def test_readme_begins_with_one_paragraph_and_two_commands() -> None:
    """The job first, then the two fenced blocks, one command each."""
    blocks = re.findall(r"```\n(.*?)```", README, flags=re.DOTALL)

    assert README.partition("```")[0].strip().count("\n\n") == 1
    assert len(blocks) == 2
    assert all(block.count("\n") == 1 for block in blocks)


def test_changes_name_the_present_version() -> None:
    """The list of changes knows the version that is being built."""
    version = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]

    assert f"## {version}" in (ROOT / "monitor" / "CHANGES.md").read_text(encoding="utf-8")
