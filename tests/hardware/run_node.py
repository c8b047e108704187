"""Run the node's real firmware under MicroPython's unix port against the fake converters.

    micropython run_node.py [out=PATH] [scans=N] [scan_ms=N] [mains=50|60] [clock=real|virtual] [start=TICKS]
        [node=NAME] [armed=PATH] [input=LABEL:LETTER:CODE:COLD ...] [at=MS:LABEL:ACTION[:NUMBER] ...]

The lines go to the serial device PATH (a pseudo-terminal will do, raw), or to standard output, heartbeats being read
from standard input. CODE is the emf in steps of the letter's gain, COLD the cold junction in 1/64 degC. An action
strikes at MS after the start. At the end a JSON object on standard error says what the board saw.
"""

import json
import sys
import time

HERE = sys.argv[0].rsplit("/", 1)[0] if "/" in sys.argv[0] else "."
sys.path[:0] = [HERE, HERE + "/../../hardware/node"]

from converter import EMF_SHIFT  # noqa: E402 (the path comes first)
from fake_board import FakeClock, FakeMachine  # noqa: E402

GAINS = {23: 8, 25: 32}
STATES = {
    "open": ("is_open", True),
    "closed": ("is_open", False),
    "over": ("is_over", True),
    "within": ("is_over", False),
    "ready-high": ("ready_stuck", 1),
    "ready-low": ("ready_stuck", 0),
    "ready-free": ("ready_stuck", None),
}
BUS_LEVELS = {"bus-00": 0x00, "bus-ff": 0xFF, "bus-free": None}


class Config:
    """A configuration like `config.py`, wired to fake pins."""

    MAINS_HZ = 50
    NODE = "shed-1"
    SPI_ID, SCK_PIN, MOSI_PIN, MISO_PIN = 0, 2, 3, 4
    PORT, UART_ID, TX_PIN, RX_PIN = "usb", 1, 20, 21
    BUZZER_PIN = 15
    ARMED_PATH = "/nowhere/armed"
    SCAN_MS = 1000
    WATCHDOG_MS = 8000
    RING_SCANS = 600
    START_DELAY_MS = 0
    INPUTS = ()


class Interrupt:
    """Stands for the module `micropython`: remembers which byte on the line would interrupt the program."""

    byte = 3

    def kbd_intr(self, byte):
        """Take the byte, -1 for none."""
        self.byte = byte


class Timeline:
    """A clock that lets actions strike when their time has come."""

    def __init__(self, clock):
        self._clock = clock
        self._start = clock.ticks_ms()
        self._actions = []
        self.ticks_add, self.ticks_diff = clock.ticks_add, clock.ticks_diff

    def ticks_ms(self):
        """Return the tick counter of the clock within."""
        return self._clock.ticks_ms()

    def sleep_ms(self, span_ms):
        """Sleep, then strike what is due."""
        self._clock.sleep_ms(span_ms)
        passed = self.ticks_diff(self.ticks_ms(), self._start)
        while self._actions and self._actions[0][0] <= passed:
            self._actions.pop(0)[1]()

    def plan(self, at_ms, action):
        """Let action strike at that time."""
        self._actions.append((at_ms, action))
        self._actions.sort(key=lambda planned: planned[0])


def strike(machine, letters, label, action, number):
    """Do to a converter or to the bus what the action says."""
    converter = machine.converters[label]
    if action in STATES:
        setattr(converter, *STATES[action])
    elif action in BUS_LEVELS:
        machine.bus.stuck_at = BUS_LEVELS[action]
    elif action == "bus-dies":
        machine.bus.dies_in_bytes = number
    elif action == "reset":
        converter.reset()
    elif action == "set-register":
        converter.registers[number >> 8] = number & 0xFF
    elif action == "cold":
        converter.cold = number
    elif action == "code":
        converter.apply_code(number, GAINS[EMF_SHIFT[letters[label]]])
    else:
        raise ValueError("no action " + action)


def set_up_board(options, inputs):
    """Return config, clock and fake machine as the arguments say."""
    config = Config()
    config.NODE = options.get("node", config.NODE)
    config.MAINS_HZ = int(options.get("mains", "50"))
    config.SCAN_MS = int(options.get("scan_ms", "1000"))
    config.ARMED_PATH = options.get("armed", config.ARMED_PATH)
    config.INPUTS = tuple((one[0], one[1], 30 + 2 * place, 31 + 2 * place) for place, one in enumerate(inputs))
    is_virtual = options.get("clock") == "virtual"
    clock = Timeline(FakeClock(int(options.get("start", "0"))) if is_virtual else time)
    machine = FakeMachine(config, clock)
    letters = {}
    for label, letter, code, cold in inputs:
        letters[label] = letter
        strike(machine, letters, label, "code", int(code))
        strike(machine, letters, label, "cold", int(cold))
    return config, clock, machine, letters


def plan_actions(clock, machine, letters, actions):
    """Put the actions on the timeline."""
    for at_ms, label, action, *number in actions:
        value = int(number[0]) if number else 0
        clock.plan(int(at_ms), lambda what=(label, action, value): strike(machine, letters, *what))


def summary(machine, interrupt):
    """Return what the board saw, as a dictionary."""
    number, settings = machine.spi_settings
    return {
        "interrupt_byte": interrupt.byte,
        "feeds": machine.watchdog.feeds,
        "longest_ms": machine.watchdog.longest_ms,
        "watchdog_ms": machine.watchdog.timeout,
        "buzzer": machine.buzzer.changes,
        "spi": [number, settings["baudrate"], settings["polarity"], settings["phase"]],
        "violations": [one.violations for one in machine.converters.values()],
        "writes": [one.writes for one in machine.converters.values()],
    }


def run(arguments):
    """Run the firmware as the arguments say."""
    pairs = [argument.split("=", 1) for argument in arguments]
    options = dict(pairs)
    inputs = [text.split(":") for name, text in pairs if name == "input"]
    config, clock, machine, letters = set_up_board(options, inputs or [["t1", "K", "55829", "1588"]])
    plan_actions(clock, machine, letters, [text.split(":") for name, text in pairs if name == "at"])
    interrupt = Interrupt()
    sys.modules["machine"], sys.modules["micropython"] = machine, interrupt
    import main

    port = None
    if options.get("out", "-") != "-":
        stream = open(options["out"], "r+b")  # noqa: SIM115, PTH123 (MicroPython; open as long as the node runs)
        port = main.port_on(stream, stream, stream, clock)
    main.run(config, scans=int(options.get("scans", "10")), clock=clock, port=port)
    sys.stderr.write(json.dumps(summary(machine, interrupt)) + "\n")


run(sys.argv[1:])
