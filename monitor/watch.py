"""The watch over one kiln: what the engine sees and what people do, brought together for alarms and prompts.

Pure. It remembers when somebody last stoked or showed a sign of life, whether a finding of reduction is open, and since
when the kiln is watched; all else is asked anew at each step.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import msgspec

from monitor.alarms.book import AlarmBook
from monitor.alarms.prompt_table import PromptTable
from monitor.alarms.prompts import PromptBook
from monitor.alarms.records import Agreed, AlarmChange, Answer, Conditions, Host, WatchedSensor
from monitor.alarms.table import AlarmTable
from monitor.local_time import last_change, local_hour
from monitor.model import Alarm, Entry, EntryKind, Finding, FindingKind, FindingState, Prompt
from monitor.plan import behind_plan_s, planned_at
from monitor.site_file import CHAMBER_PLACES, Site

FRONT = "front"
SEEN = "seen"
BUTTON = "the button"
AHEAD_S = 60.0
"""People are heard at once, slots some seconds later; what lies further ahead came before the clock was set back."""


@dataclass(frozen=True, slots=True)
class LinkState:
    """What the host knows beside scans.

    Host seconds of silence by node, why nothing can be stored, kiln speed, and the host's word of itself.
    """

    node_silence_s: Mapping[str, float] = field(default_factory=dict)
    store_error: str | None = None
    speed: float = 1.0
    host: Host = field(default_factory=Host)


@dataclass(frozen=True, slots=True)
class Seen:
    """What the engine sees now: guide, valid temperatures, what cannot be judged, climbs, whether it is closed up."""

    guide: str | None = None
    celsius: Mapping[str, float] = field(default_factory=dict)
    no_data: frozenset[str] = frozenset()
    climb_c_per_h: Mapping[str, float] = field(default_factory=dict)
    is_closed_up: bool = False


@dataclass(frozen=True, slots=True)
class Tables:
    """What is told to people, and when: alarms and prompts."""

    alarms: AlarmTable
    prompts: PromptTable


class _Memory(msgspec.Struct):
    first: float | None = None
    last_stoke: float | None = None
    last_sign: float | None = None
    reduces: bool = False


class _Saved(msgspec.Struct):
    memory: _Memory
    book: bytes
    prompts: bytes


class Watch:
    """Alarms and prompts of one kiln."""

    def __init__(self, site: Site, tables: Tables) -> None:
        self._site = site
        self._tables = tables
        self._sensors = watched_sensors(site)
        self._agreed = agreed_of(site)
        self._seen = Seen()
        self._begin()

    def _begin(self) -> None:
        self._book = AlarmBook(self._tables.alarms, self._sensors, self._agreed)
        self._prompts = PromptBook(self._tables.prompts)
        self._memory = _Memory()

    def begin_firing(self) -> None:
        """Forget alarms, prompts and the fire."""
        self._begin()

    def step(self, now: float, findings: Sequence[Finding], seen: Seen, links: LinkState) -> list[AlarmChange]:
        """Take in what was judged at `now` (record time) and return every change of an alarm that follows."""
        self._seen = seen
        memory = self._memory
        if memory.first is None:
            memory.first = now
        if memory.last_sign is None:
            memory.last_sign = now
        for finding in findings:
            if finding.kind is FindingKind.STOKE and finding.door in {FRONT, None}:
                memory.last_stoke = max(finding.onset, memory.last_stoke or finding.onset)
            elif finding.kind is FindingKind.REDUCTION:
                memory.reduces = finding.state is FindingState.BEGIN
        return self._judged(now, findings, links)

    def between(self, now: float, links: LinkState) -> list[AlarmChange]:
        """Judge people, links and the host at `now`, between what the engine sees."""
        return self._judged(now, (), links)

    def _judged(self, now: float, findings: Iterable[Finding], links: LinkState) -> list[AlarmChange]:
        memory = self._memory
        for name in ("last_stoke", "last_sign"):
            at = getattr(memory, name)
            if at is not None and at > now + AHEAD_S:  # the clock was set back
                setattr(memory, name, now)
        conditions = self._conditions(now, links)
        self._prompts.step(self._book.sight(now, conditions))
        return self._book.step(now, findings, conditions)

    def _conditions(self, now: float, links: LinkState) -> Conditions:
        seen, memory, crew = self._seen, self._memory, self._site.crew
        plan, zone = self._site.agreed_plan, self._site.kiln.time_zone
        lit = None if plan is None else memory.first if plan.lit is None else plan.lit
        celsius = seen.celsius.get(seen.guide or "")
        due = self._prompts.handover_due_since()
        changed = last_change(now, crew.change_hours, zone)
        return Conditions(
            guide=seen.guide,
            celsius=seen.celsius,
            no_data=seen.no_data,
            node_silence_s=links.node_silence_s,
            store_error=links.store_error,
            speed=links.speed,
            climb_c_per_h=seen.climb_c_per_h,
            is_closed_up=seen.is_closed_up,
            planned_c_per_h=None if plan is None or lit is None else planned_at(plan, lit, now),
            behind_plan_s=None
            if plan is None or lit is None or celsius is None
            else behind_plan_s(plan, lit, now, celsius),
            last_stoke=memory.last_stoke,
            last_sign=memory.last_sign,
            local_hour=local_hour(now, zone),
            handover_due_s=None if due is None else (now - due) / links.speed,
            watch_changed=None if changed is None or changed < (memory.first or now) else changed,
            reduces=memory.reduces,
            plan_top_c=None if plan is None else plan.points[-1][1],
            host=links.host,
        )

    def take_entry(self, entry: Entry) -> None:
        """Note what somebody told: it shows that they are there, whatever it says."""
        self.show_life(entry.clock)
        if entry.what is EntryKind.STOKED and entry.door == FRONT:
            self._memory.last_stoke = max(entry.time, self._memory.last_stoke or entry.time)
        self._prompts.take(entry)

    def take_opened(self, time: float, what: str) -> list[AlarmChange]:
        """Note that a door was opened or a button pressed at epoch second `time`; return what the journal says of it.

        At the front that is a stoke until the probes know better; a button that means "seen" speaks of all that sounds.
        """
        self.show_life(time)
        if what == FRONT:
            self._memory.last_stoke = max(time, self._memory.last_stoke or time)
        return self._book.acknowledge_all(BUTTON, time) if what == SEEN else []

    def show_life(self, at: float) -> None:
        """Note that somebody did something at epoch second `at`."""
        self._memory.last_sign = max(at, self._memory.last_sign or at)

    def acknowledge(self, key: str, who: str, now: float) -> Answer:
        """Note that `who` has seen alarm `key`."""
        self.show_life(now)
        return self._book.acknowledge(key, who, now)

    def shelve(self, key: str, why: str, who: str, now: float, *, for_s: float, speed: float) -> Answer:
        """Put off alarm `key` for `for_s` host seconds."""
        self.show_life(now)
        return self._book.shelve(key, why, who, now, for_s=for_s, speed=speed)

    def unshelve(self, key: str, who: str, now: float) -> Answer:
        """Take back that alarm `key` was put off."""
        self.show_life(now)
        return self._book.unshelve(key, who, now)

    def silenced(self, who: str, now: float) -> list[AlarmChange]:
        """Note that `who` silenced all sound for a short while."""
        self.show_life(now)
        return self._book.silenced(who, now)

    def alarms(self) -> list[Alarm]:
        """Return what people must be shown, most urgent first."""
        return self._book.alarms()

    def sounding(self) -> int | None:
        """Return the most urgent priority that should sound, None for quiet."""
        return self._book.sounding()

    def first_in_group(self) -> str | None:
        """Return the key of the alarm that came first of several that are active now."""
        return self._book.first_in_group()

    def prompts(self) -> list[Prompt]:
        """Return what is expected of people now."""
        return self._prompts.open()

    @property
    def prompts_version(self) -> int:
        """A number that grows with each change of the prompts."""
        return self._prompts.version

    def save(self) -> bytes:
        """Return all state as bytes."""
        return msgspec.msgpack.encode(_Saved(self._memory, self._book.save(), self._prompts.save()))

    def restore(self, saved: bytes) -> None:
        """Go on from what `save` returned.

        Raises:
            ValueError: where `saved` is damaged or of another version.
        """
        try:
            held = msgspec.msgpack.decode(saved, type=_Saved)
        except msgspec.DecodeError as error:
            raise ValueError(f"the saved watch cannot be read: {error}") from error
        self._book = AlarmBook.restore(self._tables.alarms, self._sensors, held.book, self._agreed)
        self._prompts.restore(held.prompts)
        self._memory = held.memory


def watched_sensors(site: Site) -> tuple[WatchedSensor, ...]:
    """Return the site's sensors as alarms see them."""
    return tuple(
        WatchedSensor(
            s.id, s.input.partition("/")[0], s.place in CHAMBER_PLACES and s.type != "zirconia", str(s.place), s.limit_c
        )
        for s in site.sensor
    )


def agreed_of(site: Site) -> Agreed:
    """Return what the people of the site agreed on."""
    agreed = site.agreed
    return Agreed(
        is_raw=agreed.ware == "raw",
        spread_c=agreed.spread_c,
        reduction_c=agreed.reduction_c,
        interval_s=tuple((c, minutes * 60.0) for c, minutes in agreed.stoke_every) or None,
        sign_of_life=site.crew.sign_of_life,
    )
