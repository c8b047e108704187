"""The chain, on one screen: scan → temperatures → slots → findings → alarms.

Pure: events come in with their clock, everything that follows from them goes out. Live operation and replay feed the
same pipeline; what goes out does not depend on how events are cut into calls, and a saved pipeline goes on as if it had
never stopped.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache, partial
from zlib import crc32

import msgspec
import numpy as np

from monitor.alarms.records import AlarmChange, Answer
from monitor.columns import to_block
from monitor.contacts import Contacts, Opened
from monitor.engine.engine import Engine
from monitor.engine.limits import BEAT_S
from monitor.engine.outlook import Wanted
from monitor.engine.setup import setup_from_sites
from monitor.engine.slots import SlotReducer
from monitor.model import (
    Alarm,
    Arrival,
    Entry,
    EntryKind,
    Event,
    Finding,
    Outlook,
    Prompt,
    SensorClimb,
    Slots,
    Status,
    Temperatures,
    Tick,
)
from monitor.site_file import Site
from monitor.thermocouple.convert import Conversion, convert_block
from monitor.watch import LinkState, Seen, Tables, Watch
from monitor.wire.entry_line import DOORS
from monitor.wire.node_clock import NodeClock, NodeClockCounts
from monitor.wire.node_order import NodeCounts, Verdict
from monitor.wire.sequence import Closing, Sequencer


class Accepted(msgspec.Struct, frozen=True, gc=False):
    """A scan that was taken in, its time absolute; `is_late` when it is stored and drawn but never judged."""

    arrival: Arrival
    is_late: bool


@dataclass(frozen=True, slots=True)
class Outcome:
    """What followed from some events: `temperatures` has one row for each of `accepted`; `slots` were judged.

    `entries` are what people told among the events.
    """

    accepted: list[Accepted]
    temperatures: Temperatures
    findings: list[Finding]
    alarm_changes: list[AlarmChange]
    slots: int
    entries: tuple[Entry, ...] = ()


def conversions_of(site: Site) -> tuple[Conversion, ...]:
    """Return how each sensor's scans become temperatures; an oxygen probe delivers its own."""
    return tuple(Conversion(None if s.type == "zirconia" else s.type, s.correction) for s in site.sensor)


class Pipeline:
    """One kiln's chain.

    Args:
        site: the checked site.
        tables: what is told to people, None where nobody is to be alarmed (a replay of findings).
        inputs: full input name to sensor position, where it is not the site's own.
        conversions: one per sensor, where they are not the site's own.
        guard_clock: whether arrival clocks are a host's, so that a node's wildly wrong clock can be told.
    """

    def __init__(
        self,
        site: Site,
        tables: Tables | None,
        *,
        inputs: Mapping[str, int] | None = None,
        conversions: Sequence[Conversion] | None = None,
        guard_clock: bool = True,
    ) -> None:
        self.guard_clock = guard_clock
        self.slots_judged = 0
        self._site = site
        self._inputs = site.sensor_index() if inputs is None else inputs
        self._conversions = conversions_of(site) if conversions is None else conversions
        contacts: list[tuple[str, str, bool]] = [(c.input, c.door, c.open) for c in site.contact]
        contacts += [(b.input, b.means, b.pressed) for b in site.button]
        self._meaning = repr((sorted(self._inputs.items()), tuple(self._conversions), contacts))
        self._watch = None if tables is None else Watch(site, tables)
        self._node_clock = NodeClock()
        self._sequencer = Sequencer()
        self._clock = 0.0
        self._begin()

    def _begin(self) -> None:
        self._reducer = SlotReducer(len(self._site.sensor))
        self._engine = Engine(setup_from_sites([self._site]))
        self._contacts = Contacts(self._site.contact, self._site.button)
        self._told: list[Entry] = []
        self._climbs: tuple[float, dict[str, float]] | None = None
        self._pressed: list[AlarmChange] = []

    def begin_firing(self) -> None:
        """Forget the fire, its findings and its alarms; scans keep their identity."""
        self._begin()
        if self._watch is not None:
            self._watch.begin_firing()

    def feed(self, events: Iterable[Event], links: LinkState | None = None) -> Outcome:
        """Take in events in order of their clock and return all that follows from them."""
        accepted, late_at, closings, entries = self._order(events)
        block = to_block([a.arrival.scan for a in accepted], self._inputs)
        temperatures = convert_block(block, self._conversions)
        judged = np.flatnonzero([not a.is_late for a in accepted])
        if len(judged):
            scans = [a.arrival.scan for a in accepted if not a.is_late]
            self._reducer.add(
                temperatures.time[judged],
                temperatures.celsius[judged],
                status=temperatures.status[judged],
                emf_volts=np.fmax(block.emf_volts, block.oxygen_emf_volts)[judged],  # an input has one or the other
                cold_c=block.cold_junction_c[judged],
                key=np.array([_number_of(scan.node) for scan in scans], dtype=np.int64),
            )
            for scan in scans:
                self._contacts.hold(scan)
        if late_at:
            came = temperatures.status[[a.is_late for a in accepted]] != Status.ABSENT
            self._reducer.note_late(np.array(late_at), came)
        findings, changes = self._judge(closings, links) if closings else ([], [])
        return Outcome(accepted, temperatures, findings, changes, len(closings), tuple(entries))

    def _order(self, events: Iterable[Event]) -> tuple[list[Accepted], list[float], list[Closing], list[Entry]]:
        """Return what was accepted, the clocks at which late ones of it came, closings and entries."""
        accepted: list[Accepted] = []
        late_at: list[float] = []
        closings: list[Closing] = []
        entries: list[Entry] = []
        for event in events:
            placed: Arrival | Tick
            if isinstance(event, Arrival):
                placed = self._node_clock.place(event, is_host_clock=self.guard_clock)
            elif isinstance(event, Entry):
                placed = Tick(event.clock)
                entries.append(event)
                if self._watch is not None:
                    self._watch.take_entry(event)  # people need not wait for the slot
            else:
                placed = event
            step = self._sequencer.take(placed)
            closings += step.closings
            if isinstance(placed, Arrival) and step.verdict is not Verdict.REPEAT:
                accepted.append(Accepted(placed, is_late=step.verdict is Verdict.LATE))
            self._clock = max(self._clock, event.clock)
            if step.verdict is Verdict.LATE:
                late_at.append(self._clock)
        self._told += entries
        return accepted, late_at, closings, entries

    def _judge(self, closings: list[Closing], links: LinkState | None) -> tuple[list[Finding], list[AlarmChange]]:
        for closing in closings:
            self._reducer.close(closing.end, closing.known_at)
        slots = self._reducer.take()
        self.slots_judged += len(slots.end)
        if self._watch is None:
            return self._judged(slots), []
        findings: list[Finding] = []
        changes: list[AlarmChange] = []
        # Slot by slot, so that an alarm sees the guide as it was then, however many slots close at once.
        for i, known_at in enumerate(slots.known_at[:, 0].tolist()):
            told = self._judged(_cut(slots, i, i + 1))
            changes, self._pressed = changes + self._pressed, []
            changes += self._watch.step(known_at, told, self._seen_in(slots, i), links or LinkState())
            findings += told
        return findings, changes

    def _judged(self, slots: Slots) -> list[Finding]:
        """Judge `slots`, the engine being told of doors and of what people said before the first slot that may know it.

        That is the slot that holds a door's moment, and the first that was closed at a later clock than an entry's: by
        clocks alone, so that neither blocks nor the order of events at one clock make a difference.
        """
        told: list[Finding] = []
        begin = 0
        for at, _, tell in sorted(self._news(slots), key=lambda news: news[:2]):
            told += (finding for _, finding in self._engine.judge(_cut(slots, begin, at)))
            begin = at
            tell()
        return told + [finding for _, finding in self._engine.judge(_cut(slots, begin, len(slots.end)))]

    def _news(self, slots: Slots) -> Iterator[tuple[int, int, Callable[[], None]]]:
        """Yield what the engine is to be told before which slot; doors come before people."""
        for opened in self._contacts.opened(float(slots.end[-1])):
            at = int(np.searchsorted(slots.end, opened.time, side="right"))
            yield at, 0, partial(self._take_opened, opened)
        places = np.searchsorted(slots.known_at[:, 0], [entry.clock for entry in self._told], side="right").tolist()
        waiting = []
        for at, entry in zip(places, self._told, strict=True):
            if at == len(slots.end):
                waiting.append(entry)
            else:
                yield at, 1, partial(self._take_entry, entry)
        self._told = waiting

    def _take_opened(self, opened: Opened) -> None:
        if opened.what in DOORS:
            self._engine.note_opened(opened.time, opened.what)
        if self._watch is not None:
            self._pressed += self._watch.take_opened(opened.time, opened.what)

    def _take_entry(self, entry: Entry) -> None:
        if entry.what is EntryKind.CLOSED_UP:
            self._engine.close_up(entry.time)
        elif entry.what is EntryKind.FIRED_ON:
            self._engine.fire_on()
        elif entry.door is not None:
            self._engine.note_stoke(entry.time, entry.door)

    def _seen_in(self, slots: Slots, i: int) -> Seen:
        status, mean = slots.status[i, 0], slots.mean_c[i, 0]
        ids = [s.id for s in self._site.sensor]
        well = [bool(code == Status.OK) for code in status]
        beat = float(slots.end[i]) // BEAT_S
        if self._climbs is None or self._climbs[0] != beat:
            climbs = {c.sensor: c.climb_c_per_h for c in self._engine.climbs() if c.climb_c_per_h is not None}
            self._climbs = beat, climbs
        return Seen(
            guide=self._engine.guide(),
            celsius={sensor: float(c) for sensor, c, ok in zip(ids, mean, well, strict=True) if ok},
            no_data=frozenset(sensor for sensor, ok in zip(ids, well, strict=True) if not ok),
            climb_c_per_h=self._climbs[1],
            is_closed_up=self._engine.closed_up() is not None,
        )

    def watch(self, links: LinkState) -> list[AlarmChange]:
        """Judge links, host and people at the present clock, between slots."""
        return [] if self._watch is None else self._watch.between(self._clock, links)

    def acknowledge(self, key: str, who: str) -> Answer | None:
        """Note that `who` has seen alarm `key`; None where this pipeline alarms nobody."""
        return None if self._watch is None else self._watch.acknowledge(key, who, self._clock)

    def shelve(self, key: str, why: str, who: str, *, for_s: float, speed: float) -> Answer | None:
        """Put off alarm `key` for `for_s` host seconds; None where this pipeline alarms nobody."""
        if self._watch is None:
            return None
        return self._watch.shelve(key, why, who, self._clock, for_s=for_s, speed=speed)

    def unshelve(self, key: str, who: str) -> Answer | None:
        """Take back that alarm `key` was put off; None where this pipeline alarms nobody."""
        return None if self._watch is None else self._watch.unshelve(key, who, self._clock)

    def silenced(self, who: str) -> list[AlarmChange]:
        """Note that `who` silenced all sound for a short while; return what the journal says of it."""
        return [] if self._watch is None else self._watch.silenced(who, self._clock)

    def alarms(self) -> list[Alarm]:
        """Return every alarm that is active, not seen yet or put off, most urgent first."""
        return [] if self._watch is None else self._watch.alarms()

    def sounding(self) -> int | None:
        """Return the most urgent priority that should sound now, None for quiet."""
        return None if self._watch is None else self._watch.sounding()

    def first_in_group(self) -> str | None:
        """Return the key of the alarm that came first of several that are active now."""
        return None if self._watch is None else self._watch.first_in_group()

    def prompts(self) -> list[Prompt]:
        """Return what is expected of people now."""
        return [] if self._watch is None else self._watch.prompts()

    @property
    def prompts_version(self) -> int:
        """A number that grows with each change of the prompts."""
        return 0 if self._watch is None else self._watch.prompts_version

    def climbs(self) -> list[SensorClimb]:
        """Return each sensor's climb as of the newest slot."""
        return self._engine.climbs()

    def guide(self) -> str | None:
        """Return the sensor that guides now."""
        return self._engine.guide()

    def closed_up(self) -> float | None:
        """Return when the kiln was closed up, epoch seconds, None while it is fired."""
        told = [e for e in self._told if e.what in {EntryKind.CLOSED_UP, EntryKind.FIRED_ON}]
        if told:
            return told[-1].time if told[-1].what is EntryKind.CLOSED_UP else None
        return self._engine.closed_up()

    def outlook(self, wanted: Wanted) -> Outlook | None:
        """Return heat work, evenness and forecast as of the newest beat, None before the first."""
        return self._engine.outlook(wanted)

    def contiguous(self, node: str) -> tuple[str | None, int]:
        """Return boot and seq up to which `node`'s scans came or are gone; (None, 0) before the first."""
        return self._sequencer.contiguous(node)

    def node_counts(self) -> dict[str, NodeCounts]:
        """Return what is counted of each node's scans."""
        return self._sequencer.counts()

    def clock_counts(self) -> dict[str, NodeClockCounts]:
        """Return how often the host had to make a node's time."""
        return self._node_clock.counts()

    def save(self) -> bytes:
        """Return the whole state, to go on from with `restore`."""
        return msgspec.msgpack.encode(
            _Saved(
                meaning=self._meaning,
                clock=self._clock,
                node_clock=self._node_clock.save(),
                sequencer=self._sequencer.save(),
                reducer=self._reducer.save(),
                engine=self._engine.save(),
                contacts=self._contacts.save(),
                told=self._told,
                watch=None if self._watch is None else self._watch.save(),
            )
        )

    def restore(self, saved: bytes) -> None:
        """Go on from what `save` returned.

        Raises:
            ValueError: where `saved` is damaged or belongs to another site or version.
        """
        try:
            held = msgspec.msgpack.decode(saved, type=_Saved)
        except msgspec.DecodeError as error:
            raise ValueError(f"the saved state cannot be read: {error}") from error
        if held.meaning != self._meaning:
            raise ValueError(
                "the saved state belongs to other inputs, type letters, corrections or contacts; start anew"
            )
        self._clock = held.clock
        self._node_clock = NodeClock.restore(held.node_clock)
        self._sequencer = Sequencer.restore(held.sequencer)
        self._reducer.restore(held.reducer)
        self._engine.restore(held.engine)
        self._contacts.restore(held.contacts)
        self._told = held.told
        if self._watch is not None and held.watch is not None:
            self._watch.restore(held.watch)


def _cut(slots: Slots, begin: int, end: int) -> Slots:
    """Return the slots from number `begin` up to, not including, `end`."""
    return Slots(*(getattr(slots, column.name)[begin:end] for column in fields(slots)))


@lru_cache(maxsize=256)
def _number_of(node: str) -> int:
    return crc32(node.encode())


class _Saved(msgspec.Struct):
    meaning: str  # of the numbers in it: inputs and conversions
    clock: float
    node_clock: bytes
    sequencer: bytes
    reducer: bytes
    engine: bytes
    contacts: bytes
    told: list[Entry]
    watch: bytes | None
