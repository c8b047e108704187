"""A wrong configuration is refused, with everything that is wrong named at once."""

import config as shipped
import pytest
import settings


class Good:
    """A configuration that is right."""

    NODE = "shed-1"
    MAINS_HZ = 50
    INPUTS = (("t1", "K", 5, 6), ("t2", "S", 7, 8))
    SPI_ID, SCK_PIN, MOSI_PIN, MISO_PIN = 0, 2, 3, 4
    PORT, UART_ID, TX_PIN, RX_PIN = "usb", 1, 20, 21
    BUZZER_PIN = 15
    SCAN_MS, WATCHDOG_MS, RING_SCANS = 1000, 8000, 600


def with_(**changes):
    """Return a configuration with some settings changed."""
    return type("Changed", (Good,), changes)


def test_a_right_configuration_passes():
    """Four inputs, a UART and no buzzer too."""
    four = tuple((f"t{n}", letter, 10 + 2 * n, 11 + 2 * n) for n, letter in enumerate("KNRB"))

    settings.require(Good)
    settings.require(with_(INPUTS=four, PORT="uart", BUZZER_PIN=None, MAINS_HZ=60, NODE="Shed_2.a"))


def test_the_shipped_configuration_asks_for_the_mains_frequency_and_nothing_else():
    """There is no silent default for 50 or 60 Hz."""
    assert [fault.split()[0] for fault in settings.check(shipped)] == ["MAINS_HZ"]


@pytest.mark.parametrize(
    ("changes", "names"),
    [
        ({"NODE": ""}, "NODE"),
        ({"NODE": "host"}, "NODE"),
        ({"NODE": "a/b"}, "NODE"),
        ({"NODE": "-a"}, "NODE"),
        ({"MAINS_HZ": 55}, "MAINS_HZ"),
        ({"MAINS_HZ": None}, "MAINS_HZ"),
        ({"SCAN_MS": 100}, "SCAN_MS"),
        ({"SCAN_MS": 5001}, "SCAN_MS"),
        ({"SCAN_MS": 1000.0}, "SCAN_MS"),
        ({"WATCHDOG_MS": 3999}, "WATCHDOG_MS"),
        ({"WATCHDOG_MS": 8389}, "WATCHDOG_MS"),
        ({"RING_SCANS": 0}, "RING_SCANS"),
        ({"PORT": "wifi"}, "PORT"),
        ({"INPUTS": ()}, "INPUTS"),
        ({"INPUTS": tuple((f"t{n}", "K", 30 + 2 * n, 31 + 2 * n) for n in range(5))}, "INPUTS"),
        ({"INPUTS": (("t1", "C", 5, 6),)}, "input t1: letter 'C'"),
        ({"INPUTS": (("t1", "k", 5, 6),)}, "input t1: letter 'k'"),
        ({"INPUTS": (("t1", "K", 5, 6), ("t1", "K", 7, 8))}, "input label 't1'"),
        ({"INPUTS": (("t 1", "K", 5, 6),)}, "input label 't 1'"),
        ({"INPUTS": (("t1", "K", 5, 5),)}, "pin 5"),
        ({"INPUTS": (("t1", "K", 2, 6),)}, "pin 2"),
        ({"BUZZER_PIN": 4}, "pin 4"),
        ({"PORT": "uart", "TX_PIN": 15}, "pin 15"),
    ],
)
def test_each_wrong_setting_is_named(changes, names):
    """One sentence each, beginning with the setting or naming the input or pin."""
    (fault,) = settings.check(with_(**changes))

    assert fault.startswith(names)


def test_everything_wrong_is_said_at_once():
    """One error with the file, every setting and what is allowed."""
    with pytest.raises(ValueError, match=r"^config\.py: NODE must be .*; MAINS_HZ must be 50 or 60.*; PORT must be"):
        settings.require(with_(NODE="host", MAINS_HZ=0, PORT=""))
