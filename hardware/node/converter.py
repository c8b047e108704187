"""Driver of one MAX31856-class thermocouple converter in voltage mode, register by register.

Addresses, the automatic mode, the open test and the open and over/under voltage bits are those of the Linux kernel
driver drivers/iio/temperature/max31856.c. CR0's filter bit, the voltage-mode codes of CR1 and the cold-junction bits of
SR are from memory of the datasheet and not yet seen on a chip. Scale (datasheet note 7: full scale 78.125 mV at gain 8,
19.531 mV at gain 32; that is code -131072 or 131072):

    volts = code / (gain * 1.6 * 2**17)  =  code * 5 / 2**23 at gain 8, code * 5 / 2**25 at gain 32
    cold junction in degC = code / 64, with the offset register already inside

A reading is the tuple (kind, emf code, cold-junction code). Only kind VALUE has an emf; a cold junction that may not be
used is NO_COLD_JUNCTION. A value is believed only if it is fresh, came in one burst with its status, and the set-up
read back right behind it is the one that was written: an old, foreign or linearised number never leaves this file.
"""

VALUE = 0
OPEN = 1
RANGE = 2
COLD_JUNCTION = 3
BUS = 4
SET_UP = 5
WAITING = 6
STUCK = 7

FAULTS = {OPEN: "open", RANGE: "range", COLD_JUNCTION: "cold-junction"}
"""Kinds that say something about the probe or the cold junction, as the host knows them."""
TROUBLES = {BUS: "bus", SET_UP: "set-up", WAITING: "no-result", STUCK: "ready-stuck"}
"""Kinds that say something about the converter or its wires: there is no reading at all."""

NO_COLD_JUNCTION = -32768
EMF_NUMERATOR = 5
EMF_SHIFT = {"K": 23, "N": 23, "E": 23, "J": 23, "T": 23, "S": 25, "R": 25, "B": 25}
"""Per letter: volts are code * EMF_NUMERATOR / 2**shift."""
COLD_JUNCTION_SHIFT = 6

_CR0, _CR1, _MASK, _CJTO = 0x00, 0x01, 0x02, 0x09
_WRITE = 0x80
_AUTOMATIC = 0x80
_OPEN_TEST = 0x10  # once every 16 conversions (kernel driver, quoting table 4 of the datasheet)
_FILTER = {50: 0x01, 60: 0x00}
_VOLTAGE_MODE = {23: 0x08, 25: 0x0C}  # by shift: gain 8, gain 32; no averaging
_MASK_ALL = 0xFF  # the FAULT pin is not used

_SR_OPEN = 0x01
_SR_OVER_UNDER = 0x02
_SR_COLD_JUNCTION = 0x80 | 0x20 | 0x10  # outside its range, above and below its thresholds
_FULL_SCALE = 131072
_COLDEST, _HOTTEST = -40 * 64, 85 * 64  # what an electronics box can be; beyond it the number is not believed


def signed(number, bits):
    """Read the lowest `bits` of number as two's complement."""
    return number - (1 << bits) if number >> (bits - 1) & 1 else number


def decode(frame):
    """Turn the seven bytes CJTO..SR of one burst into a reading."""
    cold = signed((frame[1] << 8 | frame[2]) >> 2, 14)
    emf = signed((frame[3] << 16 | frame[4] << 8 | frame[5]) >> 5, 19)
    status = frame[6]
    has_cold = not status & _SR_COLD_JUNCTION and _COLDEST <= cold <= _HOTTEST
    if not has_cold:
        cold = NO_COLD_JUNCTION
    if status & _SR_OPEN:
        return OPEN, 0, cold
    if status & _SR_OVER_UNDER or abs(emf) >= _FULL_SCALE:  # held at an old value, or clipped: not a measurement
        return RANGE, 0, cold
    if not has_cold:
        return COLD_JUNCTION, 0, cold
    return VALUE, emf, cold


class Converter:
    """One converter on a shared SPI bus with its own select and ready pins.

    `spi` offers `write_readinto` (mode 1 or 3), `cs` and `drdy` offer `value`. The mains frequency has no default.
    """

    def __init__(self, spi, cs, drdy, letter, mains_hz):
        self._spi = spi
        self._cs = cs
        self._drdy = drdy
        self._off = _OPEN_TEST | _FILTER[mains_hz]
        self._wanted = (self._off | _AUTOMATIC, _VOLTAGE_MODE[EMF_SHIFT[letter]], _MASK_ALL, 0)
        cs.value(1)

    def is_ready(self):
        """Say whether a result waits that was not read yet."""
        return self._drdy.value() == 0

    def set_up(self):
        """Stop, write the set-up, throw away what was measured under another one, start."""
        self._write(_CR0, self._off)  # the filter may change only while stopped
        self._write(_CR1, self._wanted[1])
        self._write(_MASK, self._wanted[2])
        self._write(_CJTO, self._wanted[3])
        self._read(_CJTO, 7)  # releases the ready pin
        self._write(_CR0, self._wanted[0])

    def trouble(self):
        """Read the set-up back; return BUS, SET_UP, or VALUE when it is the one written."""
        found = tuple(self._read(_CR0, 3)) + tuple(self._read(_CJTO, 1))
        if found == self._wanted:
            return VALUE
        return BUS if found in ((0, 0, 0, 0), (255, 255, 255, 255)) else SET_UP

    def read(self):
        """Return the reading that waits; on trouble with the converter say so and set it up again."""
        was_ready = self.is_ready()
        frame = self._fresh_frame() if was_ready else None
        kind = self.trouble()
        if kind == VALUE and frame is None:
            kind = STUCK if was_ready else WAITING
        elif kind == VALUE:
            kind = self._doubt(frame)
        if kind == VALUE:
            return decode(frame)
        self.set_up()
        return kind, 0, NO_COLD_JUNCTION

    def _doubt(self, frame):
        """Judge a burst by itself: the bus may have been dead for just that long.

        Nothing but zeros could be 0 V at 0.000 degC, and the next scan would tell.
        """
        if frame in (bytes(7), b"\xff" * 7):
            return BUS
        return VALUE if frame[0] == self._wanted[3] else SET_UP

    def _fresh_frame(self):
        """Read one burst; None when the ready pin does not let go.

        A result that lands during the burst holds the pin low too: the second burst takes that one, and no third can
        follow within less than one conversion time.
        """
        for _ in range(2):
            frame = self._read(_CJTO, 7)
            if not self.is_ready():
                return frame
        return None

    def _write(self, register, number):
        self._exchange(bytes((register | _WRITE, number)))

    def _read(self, register, count):
        return self._exchange(bytes((register,)) + bytes(count))[1:]

    def _exchange(self, sent):
        received = bytearray(len(sent))
        self._cs.value(0)
        try:
            self._spi.write_readinto(sent, received)
        finally:
            self._cs.value(1)
        return received
