"""Replay as a person runs it: files in, files out, a summary, exit codes."""

import gzip
import json
import random
from pathlib import Path

import pytest

from monitor import replay
from monitor.cli import main
from monitor.model import Arrival
from monitor.wire.pack import write_pack
from tests.made_up import BEGIN, SITE_TEXT, falling_events, made_up_site, recording_lines, shed_1, shed_2, uneven_events


class Folder:
    """A folder with a site file and a recording; `run` replays it."""

    def __init__(self, folder: Path, recording: bytes, name: str = "rec.senml.jsonl", site: str = SITE_TEXT) -> None:
        self.path = folder
        self.site = folder / "kiln.toml"
        self.recording = folder / name
        self.findings = folder / "findings.jsonl"
        self.temperatures = folder / "temperatures.csv"
        self.site.write_text(site, "utf-8")
        self.recording.write_bytes(recording)

    def run(self, *more: str) -> int:
        """Replay with both outputs and return the exit code."""
        wanted = ["--findings", str(self.findings), "--temperatures", str(self.temperatures)]
        return main(["replay", str(self.recording), "--site", str(self.site), *wanted, *more])


def packs(*arrivals: Arrival) -> bytes:
    """Return a recording without host lines."""
    return b"".join(write_pack(arrival.scan) + b"\n" for arrival in arrivals)


UNEVEN = recording_lines(uneven_events())


def test_two_runs_and_any_batches_give_the_same_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Findings and temperatures do not depend on the cutting into blocks."""
    folder = Folder(tmp_path, UNEVEN)
    outputs = set()
    for size in (4000, 4000, 1, 7, 100):
        monkeypatch.setattr(replay, "BATCH_EVENTS", size)
        assert folder.run() == 0
        outputs.add((folder.findings.read_bytes(), folder.temperatures.read_bytes()))

    assert len(outputs) == 1
    assert len(folder.findings.read_text().splitlines()) == 9


def test_the_csv_of_temperatures_has_the_agreed_form(tmp_path: Path) -> None:
    """Header in the site's order; epoch seconds and degC with three decimals; empty where there is no valid value."""
    scans = [
        Arrival(shed_1(0, BEGIN + 0.25, middle_c=900.12345), BEGIN + 0.3),
        Arrival(shed_2(0, BEGIN + 0.5, back_c=-0.0001), BEGIN + 0.6),
        Arrival(shed_1(1, BEGIN + 1.0, middle_c=-3.5, is_open=True), BEGIN + 1.1),
    ]
    folder = Folder(tmp_path, recording_lines(scans))
    code = folder.run()
    header, first, *rest = folder.temperatures.read_text().splitlines()

    assert code == 0
    assert header == "time,firebox,middle,back"
    assert first.startswith("1764000000.250,")
    assert first.endswith(",900.123,")
    assert float(first.split(",")[1]) == pytest.approx(500.0, abs=0.02)
    assert rest == ["1764000000.500,,,0.000", "1764000001.000,,-3.500,"]


def test_rows_are_in_order_of_time_with_late_ones_in_place(tmp_path: Path) -> None:
    """A scan that came 30 s late is in its place among the temperatures, and is not judged."""
    folder = Folder(tmp_path, UNEVEN)
    folder.run()
    rows = folder.temperatures.read_text().splitlines()[1:]
    times = [float(row.split(",")[0]) for row in rows]

    assert times == sorted(times)
    assert len(times) == 334
    assert BEGIN + 40 in times
    assert BEGIN + 60 not in times


def test_the_summary_counts_all_that_became_of_the_lines(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Broken lines by kind, late, repeated and lost scans: nothing is dropped without a word."""
    broken = b'not json\n[{"bn":"x/","bt":1764000000,"n":"t1/emf","u":"mV","v":1}]\n\n[1]\n'
    folder = Folder(tmp_path, UNEVEN + broken)
    code = folder.run()
    lines = len([line for line in (UNEVEN + broken).splitlines() if line])

    assert code == 0
    assert capsys.readouterr().err == (
        f"{lines} lines: 334 scans accepted, 1 late, 1 repeats, 26 lost; "
        "broken lines skipped: 1 not-json, 1 unit, 1 wrong-type; 9 findings\n"
    )


def test_findings_have_the_agreed_fields_in_the_agreed_order(tmp_path: Path) -> None:
    """By time, then kind, sensor, fault, state; a fall has no fault."""
    events = list(falling_events())
    folder = Folder(tmp_path, recording_lines(events))
    folder.run()
    found = [json.loads(line) for line in folder.findings.read_text().splitlines()]
    uneven = Folder(tmp_path, UNEVEN)
    uneven.run()
    others = [json.loads(line) for line in uneven.findings.read_text().splitlines()]

    assert [(f["kind"], f["state"], f["unit"]) for f in found] == [("fall", "begin", "Cel")]
    assert list(found[0]) == ["time", "kind", "state", "sensor", "onset", "measure", "unit", "text"]
    assert list(others[0]) == ["time", "kind", "state", "sensor", "onset", "measure", "unit", "text", "fault"]
    keys = [(f["time"], f["kind"], f["sensor"], f["fault"], f["state"]) for f in others]
    assert keys == sorted(keys)


def test_no_finding_uses_a_sample_that_came_after_it_was_told(tmp_path: Path) -> None:
    """Cutting the recording off right after a finding's time leaves all findings up to it as they were."""
    events = uneven_events()
    folder = Folder(tmp_path, recording_lines(events))
    folder.run()
    whole = [json.loads(line) for line in folder.findings.read_text().splitlines()]
    until = next(f["time"] for f in whole if f["fault"] == "open")  # `missing` is told by the clock alone
    folder.recording.write_bytes(recording_lines([e for e in events if e.clock <= until]))
    folder.run()
    cut = [json.loads(line) for line in folder.findings.read_text().splitlines()]

    assert cut
    assert cut == [finding for finding in whole if finding["time"] <= until]


def test_a_packed_recording_is_read_as_well(tmp_path: Path) -> None:
    """gzip, by its ending."""
    plain = Folder(tmp_path, UNEVEN)
    plain.run()
    expected = plain.findings.read_bytes(), plain.temperatures.read_bytes()
    packed = Folder(tmp_path, gzip.compress(UNEVEN), "rec.senml.jsonl.gz")
    code = packed.run()

    assert code == 0
    assert (packed.findings.read_bytes(), packed.temperatures.read_bytes()) == expected


def test_without_host_lines_the_clock_is_the_highest_scan_time(tmp_path: Path) -> None:
    """A bare recording in order of time is judged all the same."""
    folder = Folder(tmp_path, packs(*[Arrival(shed_1(i, BEGIN + i, is_open=i > 20), 0.0) for i in range(60)]))
    folder.run()
    (finding,) = [json.loads(line) for line in folder.findings.read_text().splitlines()]

    assert (finding["fault"], finding["sensor"], finding["state"]) == ("open", "firebox", "begin")


def test_a_bare_recording_keeps_times_that_jump_by_days(tmp_path: Path) -> None:
    """Without host lines no clock says that a node's clock is wrong."""
    folder = Folder(tmp_path, packs(*[Arrival(shed_1(i, BEGIN + 200_000.0 * i), 0.0) for i in range(3)]))
    folder.run()
    rows = folder.temperatures.read_text().splitlines()[1:]

    assert [float(row.split(",")[0]) - BEGIN for row in rows] == [0.0, 200_000.0, 400_000.0]


CELSIUS = "time,firebox degC,middle degC,note\n2025-11-24T16:00:00Z,500.5,900,hello\n2025-11-24 16:00:05,501,nan,\n"
FAHRENHEIT = "time,firebox degF,middle degF\n2025-11-24T16:00:00Z,932.9,1652\n2025-11-24 16:00:05,933.8,\n"


@pytest.mark.parametrize(
    ("name", "content", "pack"),
    [("wide.csv", CELSIUS, False), ("wide.csv.gz", CELSIUS, True), ("WIDE.CSV", FAHRENHEIT, False)],
)
def test_a_wide_csv_is_read(tmp_path: Path, name: str, content: str, pack: bool) -> None:
    """Both units; a time without offset is in the kiln's zone (UTC here)."""
    folder = Folder(tmp_path, gzip.compress(content.encode()) if pack else content.encode(), name)
    code = folder.run()

    assert code == 0
    assert folder.temperatures.read_text() == (
        "time,firebox,middle,back\n1764000000.000,500.500,900.000,\n1764000005.000,501.000,,\n"
    )


def test_columns_without_a_unit_are_left_out_by_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A number without a unit means nothing; which column that was is told."""
    Folder(tmp_path, CELSIUS.encode(), "wide.csv").run()

    assert "in their heading left out: note" in capsys.readouterr().err


def test_a_csv_without_headings_is_no_recording(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 3, with the headings that are expected."""
    code = Folder(tmp_path, b"1,2,3\n4,5,6\n", "wide.csv").run()

    assert code == 3
    assert "'firebox degC'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("rec.senml.jsonl", b"", "no valid line among 0; is it a recording?"),
        ("rec.senml.jsonl", b"hello\nworld\n", "no valid line among 2; is it a recording?"),
        ("rec.senml.jsonl.gz", UNEVEN[:2000], "cannot be read: Not a gzipped file"),
        ("rec.senml.jsonl.gz", gzip.compress(UNEVEN)[:2000], "cannot be read: Compressed file ended"),
        ("rec.senml.jsonl.gz", gzip.compress(UNEVEN)[:900] + b"\xff" * 900, "cannot be read: "),
    ],
)
def test_an_unreadable_recording_ends_with_3(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, content: bytes, words: str
) -> None:
    """The message names the file and what is wrong with it; no output is written."""
    folder = Folder(tmp_path, content, name)
    code = folder.run()
    told = capsys.readouterr().err

    assert code == 3
    assert f"{folder.recording}: {words}" in told
    assert not folder.findings.exists()


def test_a_missing_recording_ends_with_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The system's own reason is told."""
    folder = Folder(tmp_path, UNEVEN)
    folder.recording.unlink()

    assert folder.run() == 3
    assert capsys.readouterr().err == f"nightstoke: {folder.recording}: cannot be read: No such file or directory\n"


def test_all_faults_of_the_site_file_are_told_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2, one line each; nothing is replayed."""
    site = SITE_TEXT.replace('type = "K"', 'type = "X"').replace('id = "back"', 'id = "middle"') + "[colour]\n"
    folder = Folder(tmp_path, UNEVEN, site=site)
    code = folder.run()
    lines = capsys.readouterr().err.splitlines()

    assert code == 2
    assert all(line.startswith(f"nightstoke: {folder.site}: ") for line in lines)
    assert [key for key in ("sensor[1].type", "sensor[3].id", "colour") if any(key in line for line in lines)] == [
        "sensor[1].type", "sensor[3].id", "colour"
    ]  # fmt: skip
    assert not folder.findings.exists()


@pytest.mark.parametrize("content", [None, b"\xff\xfe"])
def test_a_site_file_that_cannot_be_read_ends_with_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes | None
) -> None:
    """Missing, or no text: the way to make one is named."""
    folder = Folder(tmp_path, UNEVEN)
    if content is None:
        folder.site.unlink()
    else:
        folder.site.write_bytes(content)

    assert folder.run() == 2
    assert "cannot be read" in (told := capsys.readouterr().err)
    assert "nightstoke new-site" in told


@pytest.mark.parametrize("option", ["--findings", "--temperatures"])
@pytest.mark.parametrize("where", ["no/such/folder/out", "."])
def test_an_output_that_cannot_be_written_ends_with_2_before_the_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], option: str, where: str
) -> None:
    """A folder, or a place in no folder: told at once, not after an hour of replay."""
    folder = Folder(tmp_path, b"")  # an empty recording would end with 3

    assert folder.run(option, str(tmp_path / where)) == 2
    assert "cannot be written; name a file in a folder that exists" in capsys.readouterr().err


def test_a_full_disk_at_the_end_ends_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Linux gives ENOSPC for every write to /dev/full."""
    folder = Folder(tmp_path, UNEVEN)

    assert folder.run("--temperatures", "/dev/full") == 2
    assert capsys.readouterr().err.endswith("/dev/full: cannot be written: No space left on device\n")


@pytest.mark.parametrize("same", ["rec.senml.jsonl", "findings.jsonl"])
def test_no_output_may_overwrite_the_recording_or_the_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], same: str
) -> None:
    """A slip of the hand must not cost a firing's record."""
    folder = Folder(tmp_path, UNEVEN)

    assert folder.run("--temperatures", str(tmp_path / same)) == 2
    assert "must be different files" in capsys.readouterr().err
    assert folder.recording.read_bytes() == UNEVEN


def test_without_temperatures_none_are_written(tmp_path: Path) -> None:
    """The option may be left out."""
    folder = Folder(tmp_path, UNEVEN)
    code = main(["replay", str(folder.recording), "--site", str(folder.site), "--findings", str(folder.findings)])

    assert code == 0
    assert not folder.temperatures.exists()


def test_a_recording_of_ticks_only_has_no_valid_line(tmp_path: Path) -> None:
    """Host lines alone tell nothing of a kiln."""
    folder = Folder(tmp_path, b"".join(line + b"\n" for line in UNEVEN.splitlines() if b'"host/"' in line))

    assert folder.run() == 3


def test_scans_without_any_sensor_of_the_site_are_accepted_and_empty(tmp_path: Path) -> None:
    """Another kiln's recording gives rows without values, and a sensor that never spoke is not missing."""
    site = SITE_TEXT.replace("shed-1/", "elsewhere-1/").replace("shed-2/", "elsewhere-2/")
    folder = Folder(tmp_path, UNEVEN, site=site)
    code = folder.run()

    assert code == 0
    assert {row.split(",", 1)[1] for row in folder.temperatures.read_text().splitlines()[1:]} == {",,"}
    assert folder.findings.read_text() == ""


def test_progress_is_shown_on_a_terminal_only(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """And is wiped before the summary."""
    folder = Folder(tmp_path, UNEVEN)
    folder.run()
    plain = capsys.readouterr().err
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    folder.run()
    shown = capsys.readouterr().err

    assert "%" not in plain
    assert shown.startswith("\rrec.senml.jsonl: ")
    assert shown.endswith("\r\033[K" + plain)


def test_a_shuffled_tail_gives_the_same_temperatures(tmp_path: Path) -> None:
    """Packs that changed places within a few seconds end up in the same rows."""
    arrivals = [Arrival(shed_1(i, BEGIN + i), BEGIN + i) for i in range(40)]
    ordered = Folder(tmp_path, packs(*arrivals))
    ordered.run()
    expected = ordered.temperatures.read_bytes()
    tail = arrivals[30:]
    random.Random(3).shuffle(tail)
    Folder(tmp_path, packs(*arrivals[:30], *tail)).run()

    assert ordered.temperatures.read_bytes() == expected


def test_a_table_of_no_temperatures_has_its_header() -> None:
    """What has not one row is still a CSV."""
    assert list(replay.temperature_lines(made_up_site(), replay.Result())) == ["time,firebox,middle,back\n"]
