"""A fake microcontroller board: clock, pins and the module `machine`, for CPython and MicroPython."""

from fake_converter import FakeBus, FakeConverter

TICKS_PERIOD = 1 << 30  # that of the common ports (MicroPython's documentation leaves it open)


class FakeClock:
    """Time that passes only while someone sleeps, with ticks that wrap. Offers what the module `time` does."""

    def __init__(self, start_ms=0):
        self.now_ms = start_ms

    def ticks_ms(self):
        """Return the tick counter."""
        return self.now_ms % TICKS_PERIOD

    def ticks_add(self, ticks, delta):
        """Return ticks plus delta, wrapped."""
        return (ticks + delta) % TICKS_PERIOD

    def ticks_diff(self, end, start):
        """Return the signed distance from start to end."""
        return (end - start + TICKS_PERIOD // 2) % TICKS_PERIOD - TICKS_PERIOD // 2

    def sleep_ms(self, span_ms):
        """Let time pass."""
        self.now_ms += span_ms


class Select:
    """A select pin wired to a converter."""

    def __init__(self, converter):
        self._converter = converter

    def value(self, level):
        """Drive the pin."""
        self._converter.select(level)


class Ready:
    """A ready pin driven by a converter."""

    def __init__(self, converter):
        self._converter = converter

    def value(self):
        """Read the pin."""
        return self._converter.ready_level()


class Output:
    """A plain output that remembers each change as [uptime in ms, level]."""

    def __init__(self, board):
        self._board = board
        self.changes = []

    def value(self, level):
        """Drive the pin."""
        if not self.changes or self.changes[-1][1] != level:
            self.changes.append([self._board.ms_since_start(), level])


class FakeWatchdog:
    """Remembers its timeout, how often it was fed and the longest time between two feedings."""

    def __init__(self, clock, timeout):
        self._clock = clock
        self.timeout = timeout
        self.feeds = 0
        self.longest_ms = 0
        self._fed = clock.ticks_ms()

    def feed(self):
        """Take note."""
        now = self._clock.ticks_ms()
        self.longest_ms = max(self.longest_ms, self._clock.ticks_diff(now, self._fed))
        self._fed = now
        self.feeds += 1


class Pins:
    """Stands for `machine.Pin`: gives the object that is wired to a number."""

    OUT, IN, PULL_UP = "out", "in", "pull-up"

    def __init__(self, wired):
        self._wired = wired

    def __call__(self, number, _mode=None, _pull=None, value=None):
        """Return the pin, driven to `value` if one is given."""
        pin = self._wired.get(number, number)
        if value is not None:
            pin.value(value)
        return pin


class FakeMachine:
    """Stands for the module `machine` of a board wired as `config` says, with a converter behind each input."""

    def __init__(self, config, clock):
        self._clock = clock
        self._start = clock.ticks_ms()
        self.converters = {}
        wired = {}
        for label, _letter, cs, drdy in config.INPUTS:
            converter = FakeConverter(clock)
            self.converters[label] = converter
            wired[cs], wired[drdy] = Select(converter), Ready(converter)
        self.buzzer = Output(self)
        wired[config.BUZZER_PIN] = self.buzzer
        self.bus = FakeBus(list(self.converters.values()))
        self.spi_settings = None
        self.uart_settings = None
        self.uart = None
        self.watchdog = None
        self.Pin = Pins(wired)

    def ms_since_start(self):
        """Return the milliseconds since the board was made."""
        return self._clock.ticks_diff(self._clock.ticks_ms(), self._start)

    def SPI(self, number, **settings):  # noqa: N802 (the name of the real class)
        """Return the bus."""
        self.spi_settings = (number, settings)
        return self.bus

    def UART(self, number, **settings):  # noqa: N802 (the name of the real class)
        """Return the stream given as `uart`."""
        self.uart_settings = (number, settings)
        return self.uart

    def WDT(self, timeout):  # noqa: N802 (the name of the real class)
        """Start the watchdog."""
        self.watchdog = FakeWatchdog(self._clock, timeout)
        return self.watchdog
