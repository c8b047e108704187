"""Whole lines over a serial stream: USB or a UART.

A line goes out complete or is ended by a newline before the next one starts, so that a torn line costs only itself.
What comes in is cut into lines of bounded length.
"""

LONGEST_HEARD = 96
MOST_AT_ONCE = 256
WRITE_LIMIT_MS = 500


class Port:
    """A stream to read and one to write, which may be the same object.

    `poller` is a `select.poll` with the reader registered for input, `clock` offers what the module `time` does.
    """

    def __init__(self, poller, reader, writer, clock):
        self._poller = poller
        self._reader = reader
        self._writer = writer
        self._clock = clock
        self._heard = b""
        self._is_torn = False
        self.lines_torn = 0

    def write_line(self, line):
        """Write the bytes of one line; give up after a limit, and say whether all of it went out."""
        if self._is_torn:
            line = b"\n" + line
        left = self._write(line)
        self._is_torn = 0 < left < len(line) or (self._is_torn and left > 0)
        if left:
            self.lines_torn += 1
        return left == 0

    def lines(self):
        """Return the lines that came in since the last call, without their ends."""
        found = []
        for _ in range(MOST_AT_ONCE):
            byte = self._reader.read(1) if self._poller.poll(0) else None
            if not byte:
                break
            if byte in b"\r\n":
                if 0 < len(self._heard) <= LONGEST_HEARD:
                    found.append(self._heard)
                self._heard = b""
            elif len(self._heard) <= LONGEST_HEARD:
                self._heard += byte
        return found

    def _write(self, line):
        """Write what fits within the limit and return how many bytes are left."""
        start = self._clock.ticks_ms()
        rest = memoryview(line)
        while len(rest) > 0:
            written = self._writer.write(rest)
            rest = rest[written or 0 :]
            if self._clock.ticks_diff(self._clock.ticks_ms(), start) >= WRITE_LIMIT_MS:
                break
            if len(rest) > 0:
                self._clock.sleep_ms(1)
        return len(rest)
