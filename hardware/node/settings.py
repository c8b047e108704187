"""Checks `config.py` and says everything that is wrong with it at once. Nothing is measured with a wrong one."""

from converter import EMF_SHIFT

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
MOST_INPUTS = 4


def require(config):
    """Raise ValueError naming every wrong setting and what is allowed."""
    faults = check(config)
    if faults:
        raise ValueError("config.py: " + "; ".join(faults))


def check(config):
    """Return what is wrong, one sentence for each setting."""
    faults = []
    if not _is_name(config.NODE) or config.NODE == "host":
        faults.append("NODE must be letters, digits, '-', '.' or '_', and not 'host'")
    if config.MAINS_HZ not in (50, 60):
        faults.append("MAINS_HZ must be 50 or 60, the frequency of the mains where the kiln stands")
    if not _is_whole(config.SCAN_MS, 200, 5000):
        faults.append("SCAN_MS must be 200 to 5000")
    elif not _is_whole(config.WATCHDOG_MS, config.SCAN_MS + 3000, 8388):
        faults.append("WATCHDOG_MS must be at least SCAN_MS + 3000 and at most 8388")
    if not _is_whole(config.RING_SCANS, 1, 100000):
        faults.append("RING_SCANS must be 1 or more")
    if config.PORT not in ("usb", "uart"):
        faults.append("PORT must be 'usb' or 'uart'")
    return faults + _check_inputs(config.INPUTS) + _check_pins(config)


def _check_inputs(inputs):
    faults = []
    if not 1 <= len(inputs) <= MOST_INPUTS:
        faults.append("INPUTS must hold 1 to 4 inputs")
    labels = []
    for label, letter, _cs, _drdy in inputs:
        if not _is_name(label) or label in labels:
            faults.append("input label '%s' must be letters, digits, '-', '.' or '_', used once" % label)
        if letter not in EMF_SHIFT:
            faults.append("input %s: letter '%s' must be one of K N E J T S R B" % (label, letter))
        labels.append(label)
    return faults


def _check_pins(config):
    pins = [config.SCK_PIN, config.MOSI_PIN, config.MISO_PIN]
    for _label, _letter, cs, drdy in config.INPUTS:
        pins.extend((cs, drdy))
    if config.BUZZER_PIN is not None:
        pins.append(config.BUZZER_PIN)
    if config.PORT == "uart":
        pins.extend((config.TX_PIN, config.RX_PIN))
    return ["pin %s is used twice" % pin for pin in sorted(set(pins)) if pins.count(pin) > 1]


def _is_name(text):
    return bool(text) and text[0] in _LETTERS and all(letter in _LETTERS + "-._" for letter in text)


def _is_whole(number, least, most):
    return isinstance(number, int) and least <= number <= most
