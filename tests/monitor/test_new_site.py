"""`nightstoke new-site`: the dialogue over a real line, and the file that comes of it."""

import asyncio
import os
import pty
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor import new_site
from monitor.cli import main
from monitor.listen import Heard
from monitor.model import InputFault, Reading, Scan
from monitor.new_site import Probe, rise_c, site_text
from monitor.site_file import Place, parse_site
from tests.made_up import BEGIN, BusyNode, serial_line
from tests.peers import PtyNode

K_VOLTS_A_DEGREE = 40e-6  # type K near room temperature, IEC 60584-1: 0 to 50 degC give 2,023 microvolts


class Probes:
    """A node with a thermocouple t1, one that reads finished temperatures, t2, and a broken one, t3."""

    def __init__(self) -> None:
        self.warmer_c = {"t1": 0.0, "t2": 0.0}

    def line(self, number: int) -> bytes:
        """Return scan `number` as it goes over the line."""
        first = Reading("shed-1/t1", emf_volts=K_VOLTS_A_DEGREE * self.warmer_c["t1"], cold_junction_c=20.0)
        second = Reading("shed-1/t2", temperature_c=20.0 + self.warmer_c["t2"])
        third = Reading("shed-1/t3", cold_junction_c=20.0, fault=InputFault.OPEN)
        return serial_line(Scan("shed-1", BEGIN + number, (first, second, third), seq=number))


class Person:
    """Answers one question after the other; what is done while an answer is given takes effect a little later."""

    def __init__(self, *answers: str | tuple[str, Callable[[], object]]) -> None:
        self._answers = iter(answers)
        self._timers: list[threading.Timer] = []

    def isatty(self) -> bool:
        """Say that this is no terminal."""
        return False

    def readline(self) -> str:
        """Return the next answer with its newline, nothing once all were given."""
        answer = next(self._answers, None)
        if isinstance(answer, tuple):
            answer, act = answer
            self._timers.append(threading.Timer(0.05, act))
            self._timers[-1].start()
        return "" if answer is None else answer + "\n"

    def join(self) -> None:
        """Wait until all was done."""
        for timer in self._timers:
            timer.join()


def interview(
    pty_node: PtyNode, out: Path, person: Person, monkeypatch: pytest.MonkeyPatch, probes: Probes, listen: str = "0.2"
) -> int:
    """Run the command while the node speaks and the person answers; return its code."""
    monkeypatch.setattr(sys, "stdin", person)
    with BusyNode(pty_node, probes.line):
        code = main(["new-site", "--device", str(pty_node.link), "--listen", listen, str(out)])
    person.join()
    return code


def warm(probes: Probes, name: str, by_c: float) -> tuple[str, Callable[[], object]]:
    """Press Enter and warm one probe."""
    return "", lambda: probes.warmer_c.update({name: by_c})


def test_warming_one_probe_after_the_other_makes_a_site(
    tmp_path: Path, pty_node: PtyNode, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each probe is found by its rise, with its place and letter; the file is accepted as it is."""
    probes, out = Probes(), tmp_path / "kiln.toml"
    person = Person("Quiet Hill", warm(probes, "t1", 8.0), "Middle", "k", warm(probes, "t2", 8.0), "back", "done")
    code = interview(pty_node, out, person, monkeypatch, probes)
    site = parse_site(out.read_text("utf-8"), str(out))
    told = capsys.readouterr().out

    assert code == 0
    assert (site.kiln.name, site.kiln.id, site.source[0].device) == ("Quiet Hill", "quiet-hill", str(pty_node.link))
    assert [(s.id, s.input, s.type, s.place) for s in site.sensor] == [
        ("middle", "shed-1/t1", "K", Place.MIDDLE),
        ("back", "shed-1/t2", None, Place.BACK),
    ]
    assert "It delivers shed-1/t1, shed-1/t2, shed-1/t3." in told
    assert "That is shed-1/t1." in told
    assert f"{out} written. Look it over, then: nightstoke check --site {out}" in told


def test_wrong_words_are_asked_again_and_a_name_left_out_is_ours(
    tmp_path: Path, pty_node: PtyNode, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No answer costs the interview; a second probe at the same place gets a number."""
    probes, out = Probes(), tmp_path / "kiln.toml"
    person = Person(
        "x" * 81, "", warm(probes, "t1", 8.0), "chimney", "flue", "Q", "N", warm(probes, "t2", 8.0), "flue", "done"
    )  # fmt: skip
    code = interview(pty_node, out, person, monkeypatch, probes)
    site = parse_site(out.read_text("utf-8"), str(out))
    told = capsys.readouterr().out

    assert code == 0
    assert "longer than 80 letters" in told
    assert "'chimney' is none of firebox, front, middle, back, flue, timber." in told
    assert "'Q' is none of B, E, J, K, N, R, S, T." in told
    assert [(s.id, s.type) for s in site.sensor] == [("flue", "N"), ("flue-2", None)]
    assert site.kiln.name == "Our kiln"


def test_where_nothing_rises_another_try_is_offered(
    tmp_path: Path, pty_node: PtyNode, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A probe with its wires changed falls; two that rise alike are no answer; then one that rises is found."""
    monkeypatch.setattr(new_site, "WARM_LIMIT_S", 0.25)
    probes, out = Probes(), tmp_path / "kiln.toml"
    person = Person(
        "Kiln", warm(probes, "t1", -8.0), ("", lambda: probes.warmer_c.update(t1=6.0, t2=80.0)),
        warm(probes, "t2", 200.0), "front", "done",
    )  # fmt: skip
    code = interview(pty_node, out, person, monkeypatch, probes)

    assert code == 0
    assert capsys.readouterr().out.count("Nothing rose. Is that probe connected, and the right way round?") == 2
    assert [s.input for s in parse_site(out.read_text("utf-8"), "x").sensor] == ["shed-1/t2"]


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (["Kiln", "done"], "no probe was named, so nothing was written"),
        (["Kiln"], "the answers ended before the site file was made; nothing was written"),
        ([], "the answers ended before the site file was made; nothing was written"),
    ],
)
def test_an_interview_that_ends_early_writes_nothing(
    tmp_path: Path, pty_node: PtyNode, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    answers: list[str], words: str,
) -> None:  # fmt: skip
    """Exit code 2, and the folder is as it was."""
    out = tmp_path / "kiln.toml"
    code = interview(pty_node, out, Person(*answers), monkeypatch, Probes(), listen="0.15")

    assert code == 2
    assert capsys.readouterr().err == f"nightstoke: {words}\n"
    assert not out.exists()


def test_a_file_that_is_there_is_never_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is refused before a single question."""
    out = tmp_path / "kiln.toml"
    out.write_text("mine")
    code = main(["new-site", "--device", "/dev/null", str(out)])

    assert code == 2
    assert capsys.readouterr() == ("", f"nightstoke: {out} is there already; name another file or move it away\n")
    assert out.read_text() == "mine"


def test_a_folder_that_is_not_there_is_told_before_the_work(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody warms twelve probes for a file that cannot be written."""
    code = main(["new-site", "--device", "/dev/null", str(tmp_path / "no" / "kiln.toml")])

    assert code == 2
    assert "cannot be written; name a file in a folder that exists" in capsys.readouterr().err


def test_a_disk_that_takes_nothing_still_gives_the_text(
    tmp_path: Path, pty_node: PtyNode, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What was asked is printed, so that the interview was not in vain."""

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    probes, out = Probes(), tmp_path / "kiln.toml"
    monkeypatch.setattr(Path, "write_text", full)
    person = Person("Kiln", warm(probes, "t2", 8.0), "back", "done")
    code = interview(pty_node, out, person, monkeypatch, probes)
    told = capsys.readouterr()

    assert code == 2
    assert 'input = "shed-1/t2"' in told.out
    assert told.err == f"nightstoke: {out}: cannot be written: No space left on device; its text is above\n"


def test_a_silent_port_ends_with_4(tmp_path: Path, pty_node: PtyNode, capsys: pytest.CaptureFixture[str]) -> None:
    """The message names the port and what may be off."""
    code = main(["new-site", "--device", str(pty_node.link), "--listen", "0.2", str(tmp_path / "kiln.toml")])

    assert code == 4
    assert capsys.readouterr().err == (
        f"nightstoke: {pty_node.link}: nothing came within 0.2 s; is the probe box on?\n"
    )


def test_a_port_that_is_not_there_ends_with_4(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In the words of the source."""
    device = tmp_path / "nothing"
    code = main(["new-site", "--device", str(device), "--listen", "0.2", str(tmp_path / "kiln.toml")])

    assert code == 4
    assert capsys.readouterr().err.startswith(f"nightstoke: serial port {device} is not there: plug the node in")


def test_ctrl_c_ends_the_interview_at_once(tmp_path: Path, pty_node: PtyNode) -> None:
    """On a terminal, in the middle of a question: no Enter is needed to get away."""
    near, far = pty.openpty()
    words = ["new-site", "--device", str(pty_node.link), "--listen", "0.3", str(tmp_path / "kiln.toml")]
    with (
        BusyNode(pty_node, Probes().line),
        subprocess.Popen(
            [sys.executable, "-m", "monitor", *words], stdin=far, stdout=subprocess.PIPE, stderr=subprocess.PIPE
        ) as dialogue,
    ):
        assert dialogue.stdout is not None
        told = b""
        while b"called? " not in told:
            told += os.read(dialogue.stdout.fileno(), 4096)
        os.write(near, b"Quiet Hill\n")
        while b"Warm ONE probe" not in told:
            told += os.read(dialogue.stdout.fileno(), 4096)
        dialogue.send_signal(signal.SIGINT)
        _, error = dialogue.communicate(timeout=3.0)
    os.close(near)
    os.close(far)

    assert dialogue.returncode == 130
    assert error == b"\nnightstoke: stopped\n"


@pytest.mark.parametrize(
    ("before", "after", "rise"),
    [
        (Reading("n/a", temperature_c=20.0), Reading("n/a", temperature_c=27.5), 7.5),
        (Reading("n/a", emf_volts=0.0), Reading("n/a", emf_volts=30e-6), 5.0),
        (Reading("n/a", emf_volts=0.0), Reading("n/a", fault=InputFault.OPEN), 0.0),
        (Reading("n/a", fault=InputFault.OPEN), Reading("n/a", emf_volts=1.0), 0.0),
        (Reading("n/a", contact=True), Reading("n/a", contact=False), 0.0),
    ],
)
def test_a_rise_is_told_without_knowing_the_letter(before: Reading, after: Reading, rise: float) -> None:
    """By the least slope of all letters (R and S, 6 microvolts a degree): a hand is found on any."""
    assert rise_c(before, after) == pytest.approx(rise)


async def test_the_input_that_rises_clearly_most_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither a drift of all, nor one that rises less than twice as much as the next."""
    monkeypatch.setattr(new_site, "WARM_LIMIT_S", 0.05)
    heard = Heard(newest={name: Reading(name, temperature_c=20.0) for name in ("n/a", "n/b")})

    async def moved(a_c: float, b_c: float) -> str | None:
        for name in heard.newest:
            heard.newest[name] = Reading(name, temperature_c=20.0)
        waiting = asyncio.create_task(new_site._moved(heard, list(heard.newest)))
        await asyncio.sleep(0)
        heard.newest["n/a"] = Reading("n/a", temperature_c=20.0 + a_c)
        heard.newest["n/b"] = Reading("n/b", temperature_c=20.0 + b_c)
        return await waiting

    assert [await moved(6, 0), await moved(4.9, 0), await moved(6, 4), await moved(6, 13)] == [
        "n/a", None, None, "n/b"
    ]  # fmt: skip


def test_any_name_and_device_make_a_file_that_can_be_read() -> None:
    """Quotes, backslashes and letters of any script."""
    name, device = 'Fogo "novo" \\ 窯', "/dev/serial/by-id/usb-\\x20board"
    text = site_text(name, device, [Probe("shed-1/t1", Place.FIREBOX, "S")], BEGIN)
    site = parse_site(text, "kiln.toml")

    assert (site.kiln.name, site.source[0].device) == (name, device)
    assert text.startswith("# Made by 'nightstoke new-site' on 2025-11-24.")
    assert "# points = [[0, 20], [48, 300], [96, 1280]]" in text


def test_the_longest_name_is_that_of_the_site_file() -> None:
    """A name that the interview takes is one that the file may hold."""
    text = site_text("x" * new_site.LONGEST_NAME, "/dev/ttyACM0", [Probe("n/a", Place.BACK, None)], BEGIN)

    assert parse_site(text, "kiln.toml").kiln.name == "x" * 80
