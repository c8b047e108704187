"""The ways in and out of one running service: its sources, and a broker where the site names one."""

from collections import Counter
from collections.abc import Awaitable, Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.clock import host_seconds
from monitor.exits import BAD_ARGUMENTS, CommandError
from monitor.pipeline import Outcome
from monitor.site_file import BrokerPart, Site
from monitor.sources.serial_line import SerialPort, SerialSource
from monitor.sources.source import Source
from monitor.surroundings import Showing

if TYPE_CHECKING:
    from monitor.publish.mqtt import MqttPublisher

TELL_BROKER_EVERY_S = 5.0
"""Pause between two states for the broker; a retained state there lives 30 s."""


class ServiceWays:
    """Sources that deliver to `deliver`, which returns the nodes a pack came from, and the broker's publisher."""

    def __init__(self, site: Site, deliver: Callable[[bytes], frozenset[str]]) -> None:
        self._site = site
        self._deliver_pack = deliver
        self._password = None if site.broker is None else read_password(site.broker)
        self._sources: list[Source] = [_source_of(site, i, self._password) for i in range(len(site.source))]
        self._heard_on: dict[str, Source] = {}
        self._publisher: MqttPublisher | None = None
        self._told_broker_s = 0.0
        if site.broker is not None:
            # Imported only where a broker is configured: a kiln without one does not carry its weight.
            from monitor.publish import mqtt  # noqa: PLC0415

            self._publisher = mqtt.MqttPublisher(site.broker, site.kiln.id, self._password)

    def tasks(self) -> Iterator[tuple[str, Callable[[], Awaitable[None]]]]:
        """Yield the endless tasks to supervise, by name."""
        for source in self._sources:
            yield f"source {source.state.name}", partial(source.run, partial(self._take, source))
        if self._publisher is not None:
            yield "broker", self._publisher.run

    def _take(self, source: Source, payload: bytes, _name: str) -> None:
        for node in self._deliver_pack(payload):
            self._heard_on[node] = source

    def source_errors(self) -> dict[str, str | None]:
        """Return why each source delivers nothing, None while it works."""
        return {source.state.name: source.state.error for source in self._sources}

    @property
    def broker_connected(self) -> bool | None:
        """Whether the broker takes what is published, None without a broker."""
        return None if self._publisher is None else self._publisher.state == "connected"

    @property
    def broker_error(self) -> str | None:
        """Why nothing reaches the broker, None while it does or where there is none."""
        return None if self._publisher is None else self._publisher.error

    def counts(self) -> Counter[str]:
        """Return what sources and publisher count, each kind under its own name."""
        counts: Counter[str] = Counter()
        for source in self._sources:
            counts.update({f"{source.state.kind}_{kind}": number for kind, number in source.state.counts.items()})
            if isinstance(source, SerialSource):
                lines = source.lines.counts
                counts.update(line_too_long=lines.too_long, line_no_crc=lines.no_crc)
                counts.update(line_bad_crc=lines.bad_crc, line_cut=lines.cut)
        if self._publisher is not None:
            counts.update({f"broker_{kind}": number for kind, number in self._publisher.counts.items()})
        return counts

    def send_alive(self, known: dict[str, tuple[str | None, int]]) -> None:
        """Tell each node, on the line it was last heard on, what is kept; on a silent line, that the host lives."""
        for node, (boot, seq) in known.items():
            if node in self._heard_on:
                self._heard_on[node].send_alive(node, boot, seq)
        for source in self._sources:
            if source not in self._heard_on.values():
                source.send_alive(None, None, 0)

    def tell(self, outcome: Outcome, live: Showing) -> None:
        """Pass on to the broker what happened."""
        publisher = self._publisher
        if publisher is None:
            return
        now, now_s = live.clock.now(), host_seconds()
        for finding in outcome.findings:
            publisher.publish_finding(finding)
        for change in outcome.alarm_changes:
            (line,) = live.present.alarm_lines([change.alarm], now)
            publisher.publish_alarm(line, change.change.value, change.time)
        if outcome.alarm_changes or now_s - self._told_broker_s >= TELL_BROKER_EVERY_S:
            self._told_broker_s = now_s
            publisher.publish_values(live.present.all_values(now_s), now)
            publisher.publish_state(live.alarm_lines(), now)

    async def rest(self) -> None:
        """Tell the nodes that the host stops in order."""
        for source in self._sources:
            await source.send_rest()


def read_password(broker: BrokerPart) -> str | None:
    """Return the password in the broker's password file, None where none is named.

    Raises:
        CommandError: the file cannot be read.
    """
    if broker.password_file is None:
        return None
    try:
        return Path(broker.password_file).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise CommandError(BAD_ARGUMENTS, f"broker.password_file: {broker.password_file}: {reason}") from error


def _source_of(site: Site, position: int, password: str | None) -> Source:
    part = site.source[position]
    if part.kind == "serial":
        assert part.device is not None
        return SerialSource(SerialPort(part.device))
    assert site.broker is not None
    from monitor.sources.mqtt import BrokerLink, MqttSource  # noqa: PLC0415 - as above

    broker = site.broker
    link = BrokerLink(broker.host, broker.port, broker.user, password, broker.ca_file)
    return MqttSource(link, site.kiln.id)
