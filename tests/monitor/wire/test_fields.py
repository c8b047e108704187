"""Names, words and limits of a pack."""

import pytest

from monitor.model import InputFault, Reading
from monitor.wire.fields import (
    INPUT_FIELDS,
    LATEST_TIME_S,
    NODE_FIELDS,
    RELATIVE_BELOW_S,
    KnownName,
    PackError,
    PackFault,
    checked_boot,
    checked_fault,
    checked_time,
    known_name,
)


@pytest.mark.parametrize(
    ("name", "known"),
    [
        ("shed-1/t1/emf", KnownName("shed-1", "shed-1/t1", INPUT_FIELDS["emf"])),
        ("shed-1/seq", KnownName("shed-1", "", NODE_FIELDS["seq"])),
        ("", None),
        ("shed-1", None),
        ("shed-1/emf", None),
        ("shed-1/t1/seq", None),
        ("shed-1//emf", None),
        ("shed-1/t1/t2/emf", None),
        ("urn:dev:ow:10e2073a01080063", None),
    ],
)
def test_name_is_known_or_ignored(name: str, known: KnownName | None) -> None:
    """Names of a node's own fields have two parts, those of an input three; all other names mean nothing to us."""
    assert known_name(name) == known


@pytest.mark.parametrize("name", ["-shed/t1/emf", "shed 1/t1/emf", "shed\x00/seq", "é/t1/emf", "s" * 257])
def test_name_outside_the_standard_is_refused(name: str) -> None:
    """RFC 8428 section 4.5.1: letters, digits and -:./_ only, beginning with a letter or digit."""
    with pytest.raises(PackError) as caught:
        known_name(name)

    assert caught.value.reason is PackFault.NAME


def test_places_follow_the_reading() -> None:
    """Each field's place is its place in `Reading` behind the input's name."""
    order = ("emf_volts", "cold_junction_c", "fault", "temperature_c", "oxygen_emf_volts", "contact")

    assert Reading.__struct_fields__ == ("input", *order)
    assert [field.at for field in INPUT_FIELDS.values()] == list(range(6))


@pytest.mark.parametrize("boot", ["9f3ac2d1", "-a", "#", "x" * 64])
def test_boot_of_one_word_passes(boot: str) -> None:
    """Any printable word of up to 64 characters is a boot."""
    assert checked_boot(boot) == boot


@pytest.mark.parametrize("boot", ["", "-", "a b", "a\n", "x" * 65, "é"])
def test_boot_that_breaks_the_heartbeat_is_refused(boot: str) -> None:
    """A boot that the line `alive <boot> <seq>` could not carry is refused."""
    with pytest.raises(PackError) as caught:
        checked_boot(boot)

    assert caught.value.reason is PackFault.RANGE


@pytest.mark.parametrize("fault", InputFault)
def test_each_fault_has_its_word(fault: InputFault) -> None:
    """The words of the wire are the values of the enumeration."""
    assert checked_fault(fault.value) is fault


def test_unknown_fault_is_refused() -> None:
    """A fault that we do not know is not made into one that we know."""
    with pytest.raises(PackError, match="one of open, range, cold-junction"):
        checked_fault("bent")


@pytest.mark.parametrize("time", [0.0, -RELATIVE_BELOW_S + 1, RELATIVE_BELOW_S, 1764000000.25, LATEST_TIME_S - 1])
def test_time_within_the_calendar_passes(time: float) -> None:
    """Relative times and times before the year 10000 pass as they are."""
    assert checked_time(time) == time


@pytest.mark.parametrize("time", [-RELATIVE_BELOW_S, LATEST_TIME_S, 1e300, -1e300])
def test_time_outside_the_calendar_is_refused(time: float) -> None:
    """Other times are refused."""
    with pytest.raises(PackError) as caught:
        checked_time(time)

    assert caught.value.reason is PackFault.RANGE
