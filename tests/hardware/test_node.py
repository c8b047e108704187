"""The node's round in virtual time: scans, heartbeats, sending again, watchdog and buzzer."""

import pytest
from buzzer import SILENCE_MS, ArmedFile, Buzzer
from converter import EMF_SHIFT, Converter
from fake_board import TICKS_PERIOD, FakeClock, FakeWatchdog, Ready, Select
from fake_converter import FakeBus, FakeConverter
from node import RESEND_PER_SCAN, RESULT_LIMIT_MS, Node
from ring import Resend, Ring
from serial_lines import by_name, read_pack
from uptime import Uptime

BOOT = "9f3ac2d1"


class Host:
    """The other end of the line: keeps what came, says what is planned for a time, may stop reading."""

    def __init__(self, clock):
        self._clock = clock
        self._start = clock.now_ms
        self.plan = []
        self.received = []
        self.times = []
        self.is_blocked = False

    def write_line(self, line):
        """Take a line."""
        if self.is_blocked:
            return False
        self.received.append(line)
        self.times.append(self._clock.now_ms - self._start)
        return True

    def lines(self):
        """Say what is due."""
        now_ms = self._clock.now_ms - self._start
        said = [text for at_ms, text in self.plan if at_ms <= now_ms]
        self.plan = [(at_ms, text) for at_ms, text in self.plan if at_ms > now_ms]
        return said

    def answers_every(self, span_ms, until_ms, text):
        """Plan a heartbeat at regular times."""
        self.plan += [(at_ms, text) for at_ms in range(span_ms, until_ms, span_ms)]


class Pin:
    """The buzzer's pin."""

    def __init__(self, clock):
        self._clock = clock
        self.high_at = []

    def value(self, level):
        """Note when it sounds."""
        if level:
            self.high_at.append(self._clock.now_ms)


class Rig:
    """A node with fake converters in virtual time."""

    def __init__(self, tmp_path, letters=("K", "S"), capacity=600, start_ms=0):
        self.clock = FakeClock(start_ms)
        self.chips = [FakeConverter(self.clock) for _ in letters]
        self.bus = FakeBus(self.chips)
        self.host = Host(self.clock)
        self.pin = Pin(self.clock)
        self.watchdog = FakeWatchdog(self.clock, 8000)
        inputs = [
            (f"t{place + 1}", EMF_SHIFT[letter], Converter(self.bus, Select(chip), Ready(chip), letter, 50))
            for place, (letter, chip) in enumerate(zip(letters, self.chips, strict=True))
        ]
        uptime = Uptime(self.clock)
        ring = Ring(capacity, len(letters))
        parts = {
            "clock": self.clock,
            "port": self.host,
            "buzzer": Buzzer(self.pin, ArmedFile(str(tmp_path / "armed")), 0),
            "ring": ring,
            "resend": Resend(ring, 0),
            "uptime": uptime,
            "watchdog": self.watchdog,
        }
        self.node = Node("shed-1", BOOT, inputs, parts)

    def seqs(self):
        """Return the received numbers in order."""
        return [int(by_name(line)["seq"]) for line in self.host.received]


@pytest.fixture
def rig(tmp_path):
    """Return a node with two inputs."""
    return Rig(tmp_path)


def test_each_scan_is_one_line_and_one_beat_of_the_clock(rig):
    """Numbers grow by one, the watchdog is fed once a scan, and scans keep to their second."""
    rig.node.run(1000, scans=5)

    assert rig.seqs() == [1, 2, 3, 4, 5]
    assert rig.watchdog.feeds == 5
    assert rig.host.times == [170, 1000, 2000, 3000, 4000]
    assert [by_name(line)["up"] * 1000 for line in rig.host.received] == rig.host.times
    assert all("bt" not in record for line in rig.host.received for record in read_pack(line))


def test_uptime_on_the_wire_has_no_jump_when_the_ticks_wrap(tmp_path):
    """F46: the tick counter passes its period between two scans."""
    rig = Rig(tmp_path, start_ms=TICKS_PERIOD - 2500)
    rig.node.run(1000, scans=5)

    assert [by_name(line)["up"] * 1000 for line in rig.host.received] == [170, 1000, 2000, 3000, 4000]


def test_one_dead_converter_leaves_the_others_alone(rig):
    """F24: its ready pin never falls; the wait is limited, the rest is sent, the watchdog is fed."""
    rig.chips[0].ready_stuck = 1
    rig.chips[1].apply_code(-1, 32)
    rig.node.run(1000, scans=3)

    for line in rig.host.received:
        seen = by_name(line)
        assert seen["t1/converter"] == "no-result"
        assert "t1/emf" not in seen
        assert "t2/emf" in seen
    assert rig.watchdog.longest_ms <= 1000 + RESULT_LIMIT_MS + 100


def test_a_dead_bus_says_so_on_every_input_and_does_not_hang(rig):
    """F23: no emf from any input while MISO reads zeros, values again afterwards."""
    rig.bus.stuck_at = 0x00
    rig.node.run(1000, scans=2)
    rig.bus.stuck_at = None
    rig.node.run(1000, scans=2)

    dead, alive = rig.host.received[1], rig.host.received[3]
    assert (by_name(dead)["t1/converter"], by_name(dead)["t2/converter"]) == ("bus", "bus")
    assert not any(name.endswith("/emf") for name in by_name(dead))
    assert {"t1/emf", "t2/emf"} <= set(by_name(alive))


def test_a_committed_scan_is_not_sent_again(rig):
    """The host reports what it has; `oldest` follows."""
    rig.host.plan = [(second * 1000 + 500, f"alive {BOOT} {second}".encode()) for second in range(1, 40)]
    rig.node.run(1000, scans=40)

    assert rig.seqs() == list(range(1, 41))
    assert by_name(rig.host.received[-1])["oldest"] == 39  # 38 was reported half a second before


def test_a_report_that_stands_still_brings_the_gap_again_with_its_age(rig):
    """From the first unreported scan, beside the fresh ones, each with the time it was taken."""
    rig.host.answers_every(5000, 20000, f"alive {BOOT} 2".encode())
    rig.node.run(1000, scans=17)

    again = [line for line in rig.host.received if "bt" in read_pack(line)[0]]
    assert [int(by_name(line)["seq"]) for line in again[:RESEND_PER_SCAN]] == list(range(3, 3 + RESEND_PER_SCAN))
    fresh = {int(by_name(line)["seq"]): by_name(line)["up"] for line in rig.host.received if line not in again}
    assert sorted(fresh) == list(range(1, 18))
    for line in again:
        sent_ms = rig.host.times[rig.host.received.index(line)]
        assert by_name(line)["up"] == fresh[int(by_name(line)["seq"])]
        assert read_pack(line)[0]["bt"] * 1000 == by_name(line)["up"] * 1000 - sent_ms
        assert by_name(line)["oldest"] == 3


def test_a_host_that_comes_late_gets_what_the_ring_holds(tmp_path):
    """The line was dead for 30 scans, the ring holds 20 with the newest: the rest is announced as gone."""
    rig = Rig(tmp_path, capacity=20)
    rig.host.answers_every(1000, 60000, b"alive - 0")
    rig.host.is_blocked = True
    rig.node.run(1000, scans=30)
    rig.host.is_blocked = False
    rig.node.run(1000, scans=4)

    assert rig.seqs()[:9] == [31, *range(12, 20)]
    assert by_name(rig.host.received[0])["oldest"] == 12
    assert set(rig.seqs()) == set(range(12, 35))


def test_a_line_that_blocks_while_sending_again_is_left_until_the_next_scan(rig):
    """The fresh scan went out, the third repeat did not: no more is tried in this scan."""
    tried = []
    rig.host.plan = [(at_ms, b"alive - 0") for at_ms in range(1000, 40000, 1000)]
    rig.node.run(1000, scans=10)
    rig.host.write_line = lambda line: tried.append(line) or len(tried) < 4
    rig.node.run(1000, scans=1)

    assert [int(by_name(line)["seq"]) for line in tried] == [11, 1, 2, 3]


def test_a_blocked_line_is_tried_once_a_scan(rig):
    """Lines sent again do not queue up behind a port that takes nothing, so the watchdog is fed in time."""
    tried = []
    rig.host.plan = [(at_ms, b"alive - 0") for at_ms in range(1000, 40000, 1000)]
    rig.host.write_line = lambda line: tried.append(line) is not None
    rig.node.run(1000, scans=30)

    assert len(tried) == 30
    assert rig.watchdog.feeds == 30


def test_the_watchdog_starves_when_a_scan_does_not_end(rig):
    """F31: an exception in the middle of a scan means no feeding; the board resets."""

    def broken(_sent, _received):
        raise OSError(5)

    rig.node.run(1000, scans=2)
    rig.bus.write_readinto = broken
    with pytest.raises(OSError, match="5"):
        rig.node.scan_once()

    assert rig.watchdog.feeds == 2


def test_the_buzzer_follows_the_heartbeat_and_rest(rig):
    """A chirp at the first heartbeat, an alarm 30 s after the last one, silence after `rest`."""
    rig.host.plan = [(2000, b"alive - 0"), (3000, b"nonsense"), (2000 + SILENCE_MS + 3000, b"rest")]
    rig.node.run(1000, scans=50)

    assert min(rig.pin.high_at) <= 2000 + 100
    assert not [at for at in rig.pin.high_at if 2200 < at < 2000 + SILENCE_MS]
    assert [at for at in rig.pin.high_at if 2000 + SILENCE_MS <= at < 2000 + SILENCE_MS + 200]
    assert max(rig.pin.high_at) <= 2000 + SILENCE_MS + 3000


def test_lost_beats_are_not_made_up_for(rig):
    """After a wait far beyond a scan's time the next scan comes a whole time later, not at once."""
    rig.node.run(1000, scans=1)
    slow = rig.host.write_line

    def write_slowly(line):
        rig.clock.sleep_ms(2600)
        return slow(line)

    rig.host.write_line = write_slowly
    rig.node.run(1000, scans=3)

    gaps = [later - earlier for earlier, later in zip(rig.host.times[1:], rig.host.times[2:], strict=False)]
    assert all(gap >= 2600 for gap in gaps)
