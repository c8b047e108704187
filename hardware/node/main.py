"""Wires the board's pins to the node's parts and starts it. The board runs this file after every reset."""

import binascii
import os
import select
import sys
import time

import machine
import micropython
import settings
from buzzer import ArmedFile, Buzzer
from converter import EMF_SHIFT, Converter
from node import Node
from port import Port
from ring import Resend, Ring
from uptime import Uptime

BAUD = 115200
SPI_BAUD = 1000000


class NoPin:
    """Stands for a buzzer that is not there."""

    def value(self, level):
        """Take the level and do nothing."""


def open_port(config, clock):
    """Return the port to the host that config names."""
    if config.PORT == "uart":
        tx, rx = machine.Pin(config.TX_PIN), machine.Pin(config.RX_PIN)
        stream = machine.UART(config.UART_ID, baudrate=BAUD, tx=tx, rx=rx)
        return port_on(stream, stream, stream, clock)
    micropython.kbd_intr(-1)  # a byte 3 on the line is not Ctrl-C
    return port_on(sys.stdin, sys.stdin.buffer, sys.stdout.buffer, clock)


def port_on(polled, reader, writer, clock):
    """Return a port over open streams; `polled` is the object to ask for input."""
    poller = select.poll()
    poller.register(polled, select.POLLIN)
    return Port(poller, reader, writer, clock)


def open_inputs(config):
    """Return (label, shift, converter) for each configured input."""
    pins = [machine.Pin(number) for number in (config.SCK_PIN, config.MOSI_PIN, config.MISO_PIN)]
    spi = machine.SPI(config.SPI_ID, baudrate=SPI_BAUD, polarity=0, phase=1, sck=pins[0], mosi=pins[1], miso=pins[2])
    selects = [machine.Pin(cs, machine.Pin.OUT, value=1) for _, _, cs, _ in config.INPUTS]  # all off before any is used
    inputs = []
    for place, (label, letter, _, drdy) in enumerate(config.INPUTS):
        select_pin = selects[place]
        ready_pin = machine.Pin(drdy, machine.Pin.IN, machine.Pin.PULL_UP)
        inputs.append((label, EMF_SHIFT[letter], Converter(spi, select_pin, ready_pin, letter, config.MAINS_HZ)))
    return inputs


def run(config, scans=None, clock=time, port=None):
    """Check the configuration, build the node, scan for ever or `scans` times."""
    settings.require(config)
    clock.sleep_ms(config.START_DELAY_MS)
    uptime = Uptime(clock)
    ring = Ring(config.RING_SCANS, len(config.INPUTS))
    buzzer_pin = NoPin() if config.BUZZER_PIN is None else machine.Pin(config.BUZZER_PIN, machine.Pin.OUT, value=0)
    parts = {
        "clock": clock,
        "uptime": uptime,
        "ring": ring,
        "resend": Resend(ring, uptime.ms()),
        "buzzer": Buzzer(buzzer_pin, ArmedFile(config.ARMED_PATH), uptime.ms()),
        "port": port or open_port(config, clock),
    }
    inputs = open_inputs(config)
    parts["watchdog"] = machine.WDT(timeout=config.WATCHDOG_MS)
    boot = binascii.hexlify(os.urandom(4)).decode()
    Node(config.NODE, boot, inputs, parts).run(config.SCAN_MS, scans)


if __name__ == "__main__":
    import config as settings_of_this_node

    run(settings_of_this_node)
