"""From the converter's bits to degrees: the node's firmware, a serial line, the service's own source and functions.

The line is two pseudo-terminals and a cable between them: the node opens one, the service's serial source the other.

The emfs are those of the NIST ITS-90 thermocouple tables (Standard Reference Database 60, Monograph 175), printed to
0.001 mV, put on the fake converter's input as the nearest code.
"""

import asyncio
import os
import select
import subprocess
import threading
import tty
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from monitor.columns import to_block
from monitor.model import Status
from monitor.sources.serial_line import SerialPort, SerialSource
from monitor.thermocouple.convert import Conversion, convert_block
from monitor.wire.pack import parse_pack

RUNNER = Path(__file__).parent / "run_node.py"
STEP_UV = {"K": 0.596046, "S": 0.149012}  # datasheet: 78.125 mV / 2**17 at gain 8, 19.531 mV / 2**17 at gain 32
HALF_PRINTED_STEP_UV = 0.5
COLD_C = 25
TABLE_MV = {"K": {25: 1.000, 800: 33.275}, "S": {25: 0.143, 1200: 11.951}}
UV_PER_C = {"K": 41.0, "S": 12.0}  # the same tables: K 800 to 801 degC, S 1200 to 1201 degC, rounded to 0.1 uV


def code_at(letter, celsius):
    """Return the code of a probe at this temperature whose cold junction is at 25 degC."""
    table = TABLE_MV[letter]
    return round((table[celsius] - table[COLD_C]) * 1000 / STEP_UV[letter])


def bound_c(letter):
    """Return how far rounding of two printed emfs and of the code can move the temperature, degC."""
    return (2 * HALF_PRINTED_STEP_UV + STEP_UV[letter] / 2) / UV_PER_C[letter]


class Cable:
    """Two pseudo-terminals, each one's output the other's input; `ends` are their device names."""

    def __init__(self):
        self._masters, self._slaves = zip(*(os.openpty() for _ in range(2)), strict=True)
        for slave in self._slaves:
            tty.setraw(slave)
        self.ends = [os.ttyname(slave) for slave in self._slaves]
        self._is_cut = threading.Event()
        self._carrier = threading.Thread(target=self._carry)
        self._carrier.start()

    def _carry(self):
        near, far = self._masters
        while not self._is_cut.is_set():
            for ready in select.select([near, far], [], [], 0.05)[0]:
                os.write(far if ready == near else near, os.read(ready, 4096))

    def cut(self):
        """Take the cable away."""
        self._is_cut.set()
        self._carrier.join()
        for end in (*self._masters, *self._slaves):
            os.close(end)


async def received_scans(device, count, start_node):
    """Read the service's serial source until so many scans are in, answering each as committed."""
    source, scans, is_enough = SerialSource(SerialPort(device)), [], asyncio.Event()

    def deliver(payload, _name):
        scans.extend(parse_pack(payload))
        source.send_alive(scans[-1].node, scans[-1].boot, scans[-1].seq)
        if len(scans) >= count:
            is_enough.set()

    reading = asyncio.create_task(source.run(deliver))
    try:
        async with asyncio.timeout(20):
            while not source.state.connected:
                await asyncio.sleep(0.01)
            start_node()
            await is_enough.wait()
    finally:
        reading.cancel()
        await asyncio.gather(reading, return_exceptions=True)
    counts = source.lines.counts
    assert (counts.too_long, counts.no_crc, counts.bad_crc) == (0, 0, 0)
    return scans[:count]


@pytest.fixture
def scans_of(micropython):
    """Return a function that runs the node on a serial line and gives the scans that the host understood."""

    def run(count, *arguments):
        cable, nodes = Cable(), []
        command = [micropython, str(RUNNER), f"out={cable.ends[0]}", "scan_ms=200", f"scans={count}", *arguments]

        def start_node():
            quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
            nodes.append(subprocess.Popen(command, **quiet))

        try:
            return asyncio.run(received_scans(cable.ends[1], count, start_node))
        finally:
            for node in nodes:
                node.kill()
                node.wait()
            cable.cut()

    return run


def test_table_temperatures_arrive_within_their_rounding(scans_of):
    """K at 800 and S at 1200 degC, cold junction at 25 degC, both gains."""
    inputs = [f"input=t1:K:{code_at('K', 800)}:{COLD_C * 64}", f"input=t2:S:{code_at('S', 1200)}:{COLD_C * 64}"]

    scans = scans_of(3, *inputs)
    block = to_block(scans, {"shed-1/t1": 0, "shed-1/t2": 1})
    temperatures = convert_block(block, [Conversion("K"), Conversion("S")])

    assert [scan.seq for scan in scans] == [1, 2, 3]
    assert (temperatures.status == Status.OK).all()
    assert abs(temperatures.celsius[:, 0] - 800).max() <= bound_c("K")
    assert abs(temperatures.celsius[:, 1] - 1200).max() <= bound_c("S")


def test_codes_and_cold_junctions_arrive_bit_for_bit(scans_of):
    """The smallest code below zero, the largest, and -1/64 degC are the very floats after the wire."""
    scans = scans_of(2, "input=t1:K:-1:-1", "input=t2:S:131071:-2560")

    for scan in scans:
        low, high = scan.readings
        assert low.emf_volts == -5 / 2**23
        assert high.emf_volts == 131071 * 5 / 2**25
        assert (low.cold_junction_c, high.cold_junction_c) == (-1 / 64, -40.0)


def test_faults_arrive_as_a_status_without_a_temperature(scans_of):
    """An open probe, a clipped code, a dead cold junction and a converter that gives nothing, beside no good input."""
    scans = scans_of(
        2,
        *("input=t1:K:100:1600", "input=t2:S:131072:1600", "input=t3:K:100:8191", "input=t4:N:100:1600"),
        *("at=0:t1:open", "at=0:t4:ready-high"),
    )
    block = to_block(scans, {f"shed-1/t{number}": number - 1 for number in range(1, 5)})
    temperatures = convert_block(block, [Conversion(letter) for letter in "KSKN"])

    assert temperatures.status.tolist() == [[Status.OPEN, Status.RANGE, Status.COLD_JUNCTION, Status.ABSENT]] * 2
    assert np.isnan(temperatures.celsius).all()


def test_a_node_without_a_clock_sends_relative_time_and_its_uptime(scans_of):
    """The host finds time 0, which is now, and an uptime that starts low and rises."""
    scans = scans_of(4, "input=t1:K:100:1600")

    assert [scan.time for scan in scans] == [0.0] * 4
    assert all(scan.oldest is not None and scan.oldest <= scan.seq for scan in scans)
    assert all(earlier.up_s < later.up_s for earlier, later in pairwise(scans))
    assert scans[0].up_s < 10
