"""The node's round: read every converter, write one line, listen to the host, feed the watchdog.

Every wait has a limit. While it waits the node listens to the host and drives the buzzer. The watchdog is fed only
after a complete scan: all converters asked, the line handed over.
"""

from line import REST, pack_text, parse_heartbeat, sealed

RESULT_LIMIT_MS = 400
"""Longest wait for fresh results: the first one after a start takes 143 ms (60 Hz) or 169 ms (50 Hz) typically."""
RESEND_PER_SCAN = 8
"""Lines sent again beside each fresh one: about a third of what 115200 baud carries with four inputs."""
PAUSE_MS = 5


class Node:
    """One node with everything it needs handed in.

    `inputs` are (label, shift, converter); `port`, `buzzer`, `ring`, `resend`, `uptime` and `watchdog` are objects of
    their files, `clock` offers what the module `time` does.
    """

    def __init__(self, name, boot, inputs, parts):
        self._name = name
        self._boot = boot
        self._inputs = [(label, shift) for label, shift, _ in inputs]
        self._converters = [converter for _, _, converter in inputs]
        self._clock = parts["clock"]
        self._port = parts["port"]
        self._buzzer = parts["buzzer"]
        self._ring = parts["ring"]
        self._resend = parts["resend"]
        self._uptime = parts["uptime"]
        self._watchdog = parts["watchdog"]

    def run(self, scan_ms, scans=None):
        """Scan for ever, or `scans` times."""
        for converter in self._converters:
            converter.set_up()
        due = self._clock.ticks_ms()
        done = 0
        while scans is None or done < scans:
            self.scan_once()
            self._watchdog.feed()
            done += 1
            due = self._wait_for_next(due, scan_ms)

    def scan_once(self):
        """Take one scan, send it, and send again what is due."""
        self._wait_for_results()
        readings = [converter.read() for converter in self._converters]
        seq = self._ring.keep(self._uptime.ms(), readings)
        if not self._send(seq, is_again=False):
            return  # a blocked line is not waited for twice
        for earlier in self._resend.due(self._uptime.ms(), RESEND_PER_SCAN):
            if not self._send(earlier, is_again=True):
                return

    def _wait_for_results(self):
        start_ms = self._uptime.ms()
        while not all(converter.is_ready() for converter in self._converters):
            if self._uptime.ms() - start_ms >= RESULT_LIMIT_MS:
                return
            self._pause()

    def _wait_for_next(self, due, scan_ms):
        """Wait until a scan's time after `due` and return that tick; a lost beat is not made up for."""
        due = self._clock.ticks_add(due, scan_ms)
        if self._clock.ticks_diff(due, self._clock.ticks_ms()) <= -scan_ms:
            due = self._clock.ticks_ms()
        while self._clock.ticks_diff(due, self._clock.ticks_ms()) > 0:
            self._pause()
        return due

    def _pause(self):
        """Listen to the host, drive the buzzer, sleep a little."""
        for heard in self._port.lines():
            self._take_in(parse_heartbeat(heard))
        self._buzzer.step(self._uptime.ms())
        self._clock.sleep_ms(PAUSE_MS)

    def _take_in(self, heartbeat):
        if heartbeat is None:
            return
        if heartbeat == REST:
            self._buzzer.heard_rest()
            return
        _, boot, seq = heartbeat
        now_ms = self._uptime.ms()
        self._buzzer.heard_alive(now_ms)
        self._resend.heard(boot == self._boot.encode(), seq, now_ms)

    def _send(self, seq, is_again):
        scan = self._ring.scan(seq)
        age_ms = self._uptime.ms() - scan[1] if is_again else None
        text = pack_text(self._name, self._boot, self._inputs, scan, self._ring.oldest(), age_ms)
        return self._port.write_line(sealed(text))
