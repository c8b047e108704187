"""The driver against the register-level fake: bits, faults, broken wires, resets (F01, F17, F19, F22 to F25)."""

import pytest
from converter import (
    BUS,
    COLD_JUNCTION,
    EMF_SHIFT,
    NO_COLD_JUNCTION,
    OPEN,
    RANGE,
    SET_UP,
    STUCK,
    VALUE,
    WAITING,
    Converter,
    decode,
    signed,
)
from fake_board import FakeClock, Ready, Select
from fake_converter import CJTO, CR0, CR1, MASK, FakeBus, FakeConverter

GAINS = {
    "K": 8,
    "N": 8,
    "E": 8,
    "J": 8,
    "T": 8,
    "S": 32,
    "R": 32,
    "B": 32,
}
"""Gain 8 spans 78 mV, gain 32 spans 19.5 mV: the platinum types fit the finer one (common practice, no source)."""


class Bench:
    """A driver wired to a fake, set up and past its first conversion."""

    def __init__(self, letter="K", mains_hz=50, bus_class=FakeBus):
        self.clock = FakeClock()
        self.chip = FakeConverter(self.clock)
        self.bus = bus_class([self.chip])
        self.gain = GAINS[letter]
        self.driver = Converter(self.bus, Select(self.chip), Ready(self.chip), letter, mains_hz)
        self.driver.set_up()
        self.wait()

    def wait(self, span_ms=200):
        """Let conversions happen."""
        self.clock.sleep_ms(span_ms)

    def read_code(self, code):
        """Put a code on the input and read after the next conversion."""
        self.chip.apply_code(code, self.gain)
        self.wait()
        return self.driver.read()


@pytest.mark.parametrize(("mains_hz", "off", "automatic"), [(50, 0x11, 0x91), (60, 0x10, 0x90)])
def test_set_up_stops_first_and_starts_last(mains_hz, off, automatic):
    """A2: stop with the filter bit, CR1, MASK, CJTO = 0, start; nothing forbidden is written while running."""
    bench = Bench("K", mains_hz)

    assert bench.chip.writes == [(CR0, off), (CR1, 0x08), (MASK, 0xFF), (CJTO, 0), (CR0, automatic)]
    assert bench.chip.violations == []
    assert bench.driver.trouble() == VALUE


@pytest.mark.parametrize("letter", sorted(GAINS))
def test_gain_follows_the_letter(letter):
    """Every letter of IEC 60584-1 reads its code at its own gain."""
    bench = Bench(letter)

    assert bench.read_code(12345) == (VALUE, 12345, 1600)
    assert bench.chip.registers[CR1] == {8: 0x08, 32: 0x0C}[bench.gain]
    assert EMF_SHIFT[letter] == {8: 23, 32: 25}[bench.gain]


def test_an_unknown_mains_frequency_or_letter_is_refused():
    """There is no silent default for either."""
    chip = FakeConverter(FakeClock())

    with pytest.raises(KeyError):
        Converter(FakeBus([chip]), Select(chip), Ready(chip), "K", None)
    with pytest.raises(KeyError):
        Converter(FakeBus([chip]), Select(chip), Ready(chip), "C", 50)


@pytest.mark.parametrize("code", [0, 1, -1, 5, -4, 55829, 131071, -131071])
@pytest.mark.parametrize("letter", ["K", "S"])
def test_codes_come_through_bit_for_bit(code, letter):
    """A4: 19-bit two's complement, top-aligned in 24 bits, the five lowest bits meaning nothing."""
    assert Bench(letter).read_code(code) == (VALUE, code, 1600)


@pytest.mark.parametrize("code", [131072, -131072, 200000, -200000])
@pytest.mark.parametrize("letter", ["K", "S"])
def test_full_scale_is_out_of_range_and_never_a_number(code, letter):
    """The converter clips at +-131072: what lies there was not measured."""
    assert Bench(letter).read_code(code) == (RANGE, 0, 1600)


@pytest.mark.parametrize("cold", [0, -1, 1, 64, -64, -40 * 64, 85 * 64])
def test_cold_junction_comes_through_bit_for_bit(cold):
    """A4: 14-bit two's complement of 1/64 degC, the two lowest bits meaning nothing."""
    bench = Bench()
    bench.chip.cold = cold

    assert bench.read_code(100) == (VALUE, 100, cold)


def test_the_offset_register_is_never_added_again():
    """The chip has the offset inside its cold-junction registers; the driver passes them on as they are."""
    frame = bytes((16, 25 << 2 >> 2, 0, 0, 0, 0, 0))  # offset register says +1 degC, cold junction 25 degC with it

    assert decode(frame) == (VALUE, 0, 25 * 64)


def test_an_offset_register_that_is_not_zero_is_a_wrong_set_up():
    """The set-up wrote zero; anything else is not ours."""
    bench = Bench()
    bench.chip.registers[CJTO] = 16

    assert bench.read_code(100) == (SET_UP, 0, NO_COLD_JUNCTION)


def test_open_probe_gives_a_fault_and_keeps_the_cold_junction():
    """F01: the result of an open input is garbage and is not passed on."""
    bench = Bench()
    bench.chip.is_open = True

    assert bench.read_code(100) == (OPEN, 0, 1600)

    bench.chip.is_open = False

    assert bench.read_code(100) == (VALUE, 100, 1600)


def test_over_voltage_never_gives_the_held_value():
    """F19: while the bit is set the chip holds its old result, which reads as a good one but for the status."""
    bench = Bench()
    bench.read_code(4321)
    bench.chip.is_over = True

    assert bench.read_code(9999) == (RANGE, 0, 1600)
    frame = bench.driver._read(CJTO, 7)
    assert signed((frame[3] << 16 | frame[4] << 8 | frame[5]) >> 5, 19) == 4321  # it was there to be taken


@pytest.mark.parametrize("cold", [128 * 64 - 1, 126 * 64, 85 * 64 + 1, -40 * 64 - 1, -56 * 64, -64 * 64])
def test_cold_junction_out_of_range_gives_a_fault_and_no_number(cold):
    """F17: neither emf nor cold junction is passed on; above 125 and below -55 degC the chip says so itself."""
    bench = Bench()
    bench.chip.cold = cold

    assert bench.read_code(100) == (COLD_JUNCTION, 0, NO_COLD_JUNCTION)


def test_open_with_a_bad_cold_junction_is_open_without_one():
    """The first thing to mend is the probe."""
    bench = Bench()
    bench.chip.is_open, bench.chip.cold = True, 100 * 64

    assert bench.read_code(100) == (OPEN, 0, NO_COLD_JUNCTION)


@pytest.mark.parametrize("level", [0x00, 0xFF])
def test_a_dead_bus_is_told_at_once_and_left_again(level):
    """F23: all zeros and all ones are no reading; when the bus lives again one scan later there is a value."""
    bench = Bench()
    bench.bus.stuck_at = level

    assert bench.read_code(100) == (BUS, 0, NO_COLD_JUNCTION)

    bench.bus.stuck_at = None

    assert bench.read_code(100) == (VALUE, 100, 1600)


@pytest.mark.parametrize("level", [0x00, 0xFF])
@pytest.mark.parametrize("count", range(15))
def test_a_bus_that_dies_during_a_transfer_never_gives_a_number(count, level):
    """The set-up is read back behind the burst: a burst of 8 bytes that was cut off is not believed."""
    bench = Bench()
    bench.chip.apply_code(-1, 8)
    bench.wait()
    bench.bus.dies_in_bytes, bench.bus.dies_to = count, level

    reading = bench.driver.read()

    assert reading[0] in (BUS, SET_UP) or (count >= 8 and reading == (VALUE, -1, 1600))


class WaveringBus(FakeBus):
    """A bus whose next results read as `noise`, while the set-up reads back well."""

    noise = None

    def write_readinto(self, sent, received):
        """Exchange, then spoil a burst of results."""
        super().write_readinto(sent, received)
        if self.noise is not None and sent[0] == CJTO and len(sent) == 8:
            received[1:] = self.noise


@pytest.mark.parametrize(
    ("noise", "kind"), [(bytes(7), BUS), (b"\xff" * 7, BUS), (bytes((1, 25, 0, 0, 0, 0x20, 0)), SET_UP)]
)
def test_a_burst_spoiled_by_itself_gives_no_number(noise, kind):
    """F23: all zeros, all ones, or an offset that was never set, between good transfers."""
    bench = Bench(bus_class=WaveringBus)
    bench.bus.noise = noise

    assert bench.read_code(100) == (kind, 0, NO_COLD_JUNCTION)

    bench.bus.noise = None

    assert bench.read_code(100) == (VALUE, 100, 1600)


def test_a_reset_chip_gives_no_number_until_it_is_set_up_again():
    """F22: CR0 00 and CR1 03 in the middle of a run."""
    bench = Bench()
    bench.read_code(100)
    bench.chip.reset()

    assert bench.read_code(200) == (SET_UP, 0, NO_COLD_JUNCTION)
    assert bench.read_code(300) == (VALUE, 300, 1600)
    assert bench.chip.violations == []


@pytest.mark.parametrize(("register", "number"), [(CR1, 0x03), (CR1, 0x0C), (CR0, 0x90), (MASK, 0x00)])
def test_a_register_that_changed_by_itself_gives_no_number(register, number):
    """F22, F25: a linearised number, another gain or another filter is never taken for the emf that was asked for."""
    bench = Bench()
    bench.chip.registers[register] = number

    assert bench.read_code(5000) == (SET_UP, 0, NO_COLD_JUNCTION)
    assert bench.read_code(5000) == (VALUE, 5000, 1600)


def test_a_result_from_before_the_set_up_is_thrown_away():
    """A chip that ran as type K has a temperature waiting; the ready pin must fall anew before anything is read."""
    bench = Bench()
    bench.chip.registers[CR1] = 0x03
    bench.chip.apply_code(5000, 8)
    bench.wait()
    bench.driver.set_up()

    assert not bench.driver.is_ready()
    bench.wait()
    assert bench.driver.read() == (VALUE, 5000, 1600)


def test_without_a_fresh_result_there_is_no_reading():
    """F24: the ready pin never falls, so the old result is not read again."""
    bench = Bench()
    bench.read_code(100)
    bench.chip.ready_stuck = 1

    assert bench.read_code(200) == (WAITING, 0, NO_COLD_JUNCTION)


def test_a_ready_pin_that_never_rises_is_told():
    """Shorted to ground it would make every old result look fresh."""
    bench = Bench()
    bench.chip.ready_stuck = 0

    assert bench.read_code(200) == (STUCK, 0, NO_COLD_JUNCTION)


def test_a_result_that_lands_during_the_burst_is_taken():
    """The pin is low right after the first burst; the second burst has the newer result and lets it go."""

    class SlowBus(FakeBus):
        has_waited = False

        def write_readinto(self, sent, received):
            super().write_readinto(sent, received)
            if sent[0] == CJTO and not self.has_waited and self.converters[0].steps:
                self.has_waited = True
                bench.chip.apply_code(777, 8)
                bench.wait(98)

    bench = Bench(bus_class=SlowBus)

    assert bench.read_code(666) == (VALUE, 777, 1600)
