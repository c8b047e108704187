"""A register-level fake of an MAX31856-class converter and of the SPI bus it hangs on, for CPython and MicroPython.

Addresses and defaults: Linux kernel driver drivers/iio/temperature/max31856.c and a public register summary of the
datasheet. Scale and full scale: datasheet note 7 (78.125 mV at gain 8, 19.531 mV at gain 32). Conversion times: typical
values of the vendor's example code. From memory of the datasheet: the filter bit of CR0, the voltage codes of CR1, the
cold-junction bits of SR, the offset's step of 1/16 degC, and that an over or under voltage holds the last result.

The input is kept in steps of gain 32 (149 nV): a code at gain 32 is that number, at gain 8 a quarter of it.
"""

CR0, CR1, MASK, CJHF, CJLF, CJTO, CJTH, LTCBH, SR = 0, 1, 2, 3, 4, 9, 10, 12, 15
DEFAULTS = bytes((0x00, 0x03, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80, 0x00, 0, 0, 0, 0, 0, 0, 0))
FIRST_MS = (143, 169)  # by filter bit: 60 Hz, 50 Hz
NEXT_MS = (82, 98)
FULL_SCALE = 131072
DEAD_EMF_BITS = 0b10101  # the five lowest bits of the result mean nothing: never zero here, so that a driver drops them
DEAD_COLD_BITS = 0b11


def clipped(number, least, most):
    """Return number held within least and most."""
    return max(least, min(most, number))


def twos(number, bits):
    """Return the two's complement of number in so many bits."""
    return number & ((1 << bits) - 1)


class FakeConverter:
    """One converter. `clock` offers `ticks_ms`, `ticks_add` and `ticks_diff`.

    Set `steps`, `cold` (1/64 degC at the chip, without the offset register), `is_open`, `is_over` and `ready_stuck`
    (None, 0 or 1) at will; they count from the next conversion on. `writes` lists every write, `violations` what the
    datasheet forbids.
    """

    def __init__(self, clock):
        self._clock = clock
        self.steps = 0
        self.cold = 25 * 64
        self.is_open = False
        self.is_over = False
        self.ready_stuck = None
        self.writes = []
        self.violations = []
        self.conversions = 0
        self.registers = bytearray(DEFAULTS)
        self._due = None
        self._is_ready = False
        self._address = None
        self._is_write = False
        self.is_selected = False

    def apply_code(self, code, gain):
        """Put the voltage on the input that reads as code at that gain."""
        self.steps = code * 32 // gain

    def reset(self):
        """Go through a power-on reset: defaults, no conversions."""
        self.registers[:] = DEFAULTS
        self._due = None
        self._is_ready = False

    def select(self, level):
        """Take the level of the select pin."""
        self.is_selected = level == 0
        self._address = None

    def ready_level(self):
        """Return the level of the ready pin: low while a result waits that was not read."""
        self._advance()
        if self.ready_stuck is not None:
            return self.ready_stuck
        return 0 if self._is_ready else 1

    def exchange(self, sent):
        """Take one byte, give one byte, as a selected converter does."""
        self._advance()
        if self._address is None:
            self._is_write, self._address = bool(sent & 0x80), sent & 0x0F
            return 0xFF
        register = self._address
        self._address = (register + 1) & 0x0F
        if self._is_write:
            self._store(register, sent)
            return 0xFF
        if LTCBH <= register < SR:
            self._is_ready = False
        return self.registers[register]

    def _store(self, register, number):
        self.writes.append((register, number))
        if register > CJTO:
            return  # results and status cannot be written
        was = self.registers[CR0]
        if was & 0x80 and (register == CR1 or (register == CR0 and number & 0x80 and (number ^ was) & 0x01)):
            self.violations.append((register, number))
        self.registers[register] = number
        if register == CR0:
            if not number & 0x80:
                self._due = None
            elif not was & 0x80:
                self._due = self._clock.ticks_add(self._clock.ticks_ms(), FIRST_MS[number & 1])

    def _advance(self):
        while self._due is not None and self._clock.ticks_diff(self._clock.ticks_ms(), self._due) >= 0:
            self._convert()
            self._due = self._clock.ticks_add(self._due, NEXT_MS[self.registers[CR0] & 1])

    def _convert(self):
        registers = self.registers
        self.conversions += 1
        offset = registers[CJTO] - 256 if registers[CJTO] & 0x80 else registers[CJTO]
        cold = clipped(self.cold + 4 * offset, -64 * 64, 128 * 64 - 1)
        pattern = twos(cold, 14) << 2 | DEAD_COLD_BITS
        registers[CJTH], registers[CJTH + 1] = pattern >> 8, pattern & 0xFF
        if not self.is_over:
            pattern = twos(self._result(cold), 19) << 5 | DEAD_EMF_BITS
            registers[LTCBH], registers[LTCBH + 1], registers[LTCBH + 2] = (
                pattern >> 16,
                pattern >> 8 & 0xFF,
                pattern & 0xFF,
            )
        registers[SR] = self._status(cold)
        self._is_ready = True

    def _result(self, cold):
        mode = self.registers[CR1] & 0x0F
        if self.is_open:
            return FULL_SCALE - 1  # garbage that a driver must not use
        if mode & 0x0C == 0x0C:
            return clipped(self.steps, -FULL_SCALE, FULL_SCALE)
        if mode & 0x08:
            return clipped((self.steps + 2) >> 2, -FULL_SCALE, FULL_SCALE)
        crude_temperature = self.steps * 149012 // 320312 + 2 * cold  # 41 uV/degC: some number that is no emf
        return clipped(crude_temperature, -2 * FULL_SCALE, 2 * FULL_SCALE - 1)

    def _status(self, cold):
        high = self.registers[CJHF] - 256 if self.registers[CJHF] & 0x80 else self.registers[CJHF]
        low = self.registers[CJLF] - 256 if self.registers[CJLF] & 0x80 else self.registers[CJLF]
        status = 0x80 if cold < -55 * 64 or cold > 125 * 64 else 0
        status |= 0x20 if cold > high * 64 else 0
        status |= 0x10 if cold < low * 64 else 0
        return status | (0x02 if self.is_over else 0) | (0x01 if self.is_open else 0)


class FakeBus:
    """SPI with several converters; `stuck_at` (None, 0x00 or 0xFF) is what MISO reads when it is broken.

    `dies_in_bytes`, when set, breaks it to `dies_to` in the middle of a transfer.
    """

    def __init__(self, converters):
        self.converters = converters
        self.stuck_at = None
        self.dies_in_bytes = None
        self.dies_to = 0x00

    def write_readinto(self, sent, received):
        """Exchange as many bytes as are sent."""
        selected = [converter for converter in self.converters if converter.is_selected]
        assert len(selected) == 1, f"{len(selected)} converters selected at once"
        for place, byte in enumerate(sent):
            answer = selected[0].exchange(byte)
            self._age()
            received[place] = answer if self.stuck_at is None else self.stuck_at

    def _age(self):
        if self.dies_in_bytes is not None:
            self.dies_in_bytes -= 1
            if self.dies_in_bytes < 0:
                self.dies_in_bytes, self.stuck_at = None, self.dies_to
