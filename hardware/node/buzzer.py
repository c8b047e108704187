"""The node's own voice: it sounds when the host has fallen silent, so that nobody trusts a dead screen.

The first heartbeat arms it, a file on the node keeps it armed across resets, the host's `rest` disarms it. While armed
it beeps after 30 s without a heartbeat until one comes. A host that appears gets one short chirp: the buzzer proves
itself. A button to mute it for at most ten minutes is not there yet.
"""

import os

SILENCE_MS = 30000
CHIRP_MS = 80
BEEP_MS = 500


class ArmedFile:
    """A file whose presence says armed. `arm` and `disarm` return whether the flash took it.

    A flash that cannot be written costs the memory across resets, nothing else.
    """

    def __init__(self, path):
        self._path = path

    def is_armed(self):
        """Say whether the file is there."""
        try:
            os.stat(self._path)
        except OSError:
            return False
        return True

    def arm(self):
        """Make the file."""
        try:
            with open(self._path, "w") as kept:
                kept.write("armed\n")
        except OSError:
            return False
        return True

    def disarm(self):
        """Remove the file."""
        try:
            os.remove(self._path)
        except OSError:
            return False
        return True


class Buzzer:
    """Drives `pin` (high sounds). Times are the node's uptime in milliseconds."""

    def __init__(self, pin, armed_file, now_ms):
        self._pin = pin
        self._file = armed_file
        self._armed = armed_file.is_armed()
        self._heard_ms = now_ms
        self._has_host = False
        self._chirp_until_ms = now_ms
        pin.value(0)

    def heard_alive(self, now_ms):
        """Arm, and chirp when the host was not there before."""
        if not self._has_host:
            self._has_host = True
            self._chirp_until_ms = now_ms + CHIRP_MS
        if not self._armed:
            self._armed = True
            self._file.arm()
        self._heard_ms = now_ms

    def heard_rest(self):
        """Disarm: the host stops in order."""
        self._has_host = False
        self._armed = False
        self._file.disarm()

    def step(self, now_ms):
        """Set the pin to what it should be now."""
        silent_ms = now_ms - self._heard_ms
        if silent_ms >= SILENCE_MS:
            self._has_host = False
        beeps = self._armed and silent_ms >= SILENCE_MS and (silent_ms - SILENCE_MS) // BEEP_MS % 2 == 0
        self._pin.value(1 if beeps or now_ms < self._chirp_until_ms else 0)
