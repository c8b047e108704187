"""The alarm book under random findings, gaps, acknowledgements, clock steps and restarts.

What must hold whatever happens: an active alarm that nobody has seen stays listed and sounds; no data never clears;
what a person was told is never suppressed; a restart keeps everything; the journal replayed gives the list.
"""

from importlib.resources import files

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from monitor.alarms.book import AlarmBook
from monitor.alarms.records import AlarmChange, Conditions, WatchedSensor
from monitor.alarms.state import Reason
from monitor.alarms.table import TABLE_FILE, TABLE_PACKAGE, parse_table
from monitor.model import Alarm, Finding, FindingKind, FindingState, SensorFault

TABLE = parse_table((files(TABLE_PACKAGE) / TABLE_FILE).read_text("utf-8"), TABLE_FILE)
NODE_OF = {"front": "shed-1", "middle": "shed-1", "back": "shed-2"}
SENSORS = tuple(WatchedSensor(sensor, node, in_chamber=True) for sensor, node in NODE_OF.items())
FAULTS = (SensorFault.OPEN, SensorFault.MISSING, SensorFault.FROZEN, SensorFault.DRIFT)
DOUBTS = {SensorFault.DRIFT, SensorFault.LETTER, SensorFault.SWAPPED}
ENDS = {Reason.ENDED, Reason.ENDED_UNSEEN, Reason.LATCHED}

sensors = st.sampled_from(sorted(NODE_OF))
nodes = st.sampled_from(sorted(set(NODE_OF.values())))


class BookMachine(RuleBasedStateMachine):
    """A kiln at which anything may happen; it keeps its own account of what is open."""

    def __init__(self) -> None:
        super().__init__()
        self.book = AlarmBook(TABLE, SENSORS)
        self.now = 1.8e9
        self.open: dict[tuple[FindingKind, str, SensorFault | None], bool] = {}
        self.waiting: list[Finding] = []
        self.no_data: set[str] = set()
        self.silence_s = dict.fromkeys(NODE_OF.values(), 0.0)
        self.celsius = dict.fromkeys(NODE_OF, 600.0)
        self.store_error: str | None = None
        self.journal: dict[str, Alarm] = {}
        self.put_off: dict[str, float] = {}

    @rule(kind=st.sampled_from([FindingKind.FALL, FindingKind.STALL]), sensor=sensors)
    def process_begins_or_ends(self, kind: FindingKind, sensor: str) -> None:
        """A fall or stall is one span, ended with its begin's sensor."""
        held = next((key for key in self.open if key[0] is kind), None)
        self._tell(held or (kind, sensor, None))

    @rule(sensor=sensors, fault=st.sampled_from(FAULTS))
    def sensor_fails_or_recovers(self, sensor: str, fault: SensorFault) -> None:
        """Faults of a sensor open and close in any order."""
        self._tell((FindingKind.SENSOR, sensor, fault))

    @rule(sensor=sensors)
    def data_of_a_sensor_stop_or_return(self, sensor: str) -> None:
        """A sensor's values come and go."""
        self.no_data ^= {sensor}

    @rule(node=nodes, silence_s=st.sampled_from([0.0, 14.0, 16.0, 121.0, 700.0]))
    def node_is_silent_or_speaks(self, node: str, silence_s: float) -> None:
        """A node's silence is a figure of the host."""
        self.silence_s[node] = silence_s

    @rule(sensor=sensors, celsius=st.sampled_from([400.0, 999.0, 1200.0]))
    def kiln_is_elsewhere(self, sensor: str, celsius: float) -> None:
        """Temperatures move, also across high fire."""
        self.celsius[sensor] = celsius

    @rule(error=st.sampled_from([None, "disk full", "i/o error"]))
    def store_fails_or_recovers(self, error: str | None) -> None:
        """The store has its own troubles."""
        self.store_error = error

    @rule(seconds=st.sampled_from([0.0, 1.0, 5.0, 12.0, 40.0, 3600.0, -1.0, -7200.0, -1.7e9]))
    def time_passes_or_the_clock_is_set(self, seconds: float) -> None:
        """The record clock runs, stands, jumps ahead and is set back."""
        self.now += seconds
        before = {a.key: a for a in self.book.alarms()}
        changes = self.book.step(self.now, self.waiting, self._conditions())
        self.waiting = []
        shelved = {a.key for a in self.book.alarms() if a.shelved_until is not None}
        for key in set(self.put_off) - shelved:
            del self.put_off[key]
            assert any(c.key == key for c in changes), "what was put off came back without a word"
        self._write(changes)
        self._compare(before, changes)

    @precondition(lambda self: self.book.alarms())
    @rule(pick=st.integers(0, 99), who=st.sampled_from(["Ana", "Rui"]))
    def somebody_acknowledges(self, pick: int, who: str) -> None:
        """One alarm is seen; the first name stays."""
        alarms = self.book.alarms()
        alarm = alarms[pick % len(alarms)]
        answer = self.book.acknowledge(alarm.key, who, self.now)
        assert (answer.reason is Reason.ACKNOWLEDGED) is not alarm.acked
        assert answer.alarm is not None
        assert answer.alarm.acked_by == (alarm.acked_by if alarm.acked else who)
        self._write([] if answer.change is None else [answer.change])

    @precondition(lambda self: self.book.alarms())
    @rule(pick=st.integers(0, 99), for_s=st.sampled_from([30.0, 900.0, 901.0, 3601.0, 28800.0, 1e6]))
    def somebody_puts_off(self, pick: int, for_s: float) -> None:
        """One alarm is put off, if it may be and for no longer than it may be."""
        alarms = self.book.alarms()
        alarm = alarms[pick % len(alarms)]
        answer = self.book.shelve(alarm.key, "why", "Ana", self.now, for_s=for_s)
        may = for_s <= TABLE.shelve_most_s(alarm) and (alarm.active or alarm.shelved_until is not None)
        assert (answer.reason is Reason.SHELVED) is may
        assert answer.alarm is not None
        if may:
            self.put_off[alarm.key] = for_s
        self._write([] if answer.change is None else [answer.change])

    @precondition(lambda self: self.put_off)
    @rule(pick=st.integers(0, 99))
    def somebody_takes_it_back(self, pick: int) -> None:
        """It sounds at once if it still holds."""
        key = sorted(self.put_off)[pick % len(self.put_off)]
        held = next(a for a in self.book.alarms() if a.key == key).active
        answer = self.book.unshelve(key, "Rui", self.now)
        assert answer.reason is (Reason.UNSHELVED if held else Reason.ENDED)
        del self.put_off[key]
        self._write([] if answer.change is None else [answer.change])

    @rule()
    def wired_button_is_pressed(self) -> None:
        """All that sounds is seen."""
        self._write(self.book.acknowledge_all("button", self.now))
        assert self.book.sounding() is None

    @rule()
    def service_restarts(self) -> None:
        """Everything is as it was."""
        again = AlarmBook.restore(TABLE, SENSORS, self.book.save())
        assert again.alarms() == self.book.alarms()
        assert again.suppressed() == self.book.suppressed()
        assert again.first_in_group() == self.book.first_in_group()
        assert again.left_out == ()
        self.book = again

    @invariant()
    def journal_replayed_gives_the_list(self) -> None:
        """Every change was written, with its result."""
        shown = [a for a in self.journal.values() if a.suppressed_by is None and is_listed(a)]
        assert sorted(shown, key=lambda a: a.key) == sorted(self.book.alarms(), key=lambda a: a.key)

    @invariant()
    def unseen_active_alarms_sound(self) -> None:
        """Sound is the most urgent of what is active and unseen, and nothing else."""
        unseen = [a.priority for a in self.book.alarms() if a.active and not a.acked]
        assert self.book.sounding() == min(unseen, default=None)

    @invariant()
    def what_is_put_off_always_returns(self) -> None:
        """It stays listed, for no longer than was asked, and never but by somebody's word."""
        shelved = {a.key: a.shelved_until for a in self.book.alarms() if a.shelved_until is not None}
        assert set(shelved) <= set(self.put_off)
        for key, until in shelved.items():
            assert until - self.now <= self.put_off[key]

    def _tell(self, key: tuple[FindingKind, str, SensorFault | None]) -> None:
        kind, sensor, fault = key
        state = FindingState.END if self.open.pop(key, False) else FindingState.BEGIN
        if state is FindingState.BEGIN:
            self.open[key] = True
        self.waiting.append(Finding(self.now, kind, state, sensor, self.now - 5.0, None, None, str(key), fault=fault))

    def _conditions(self) -> Conditions:
        blind = frozenset(self.no_data)
        celsius = {s: c for s, c in self.celsius.items() if s not in blind}
        return Conditions("middle", celsius, blind, dict(self.silence_s), self.store_error)

    def _write(self, changes: list[AlarmChange]) -> None:
        for change in changes:
            self.journal[change.key] = change.alarm

    def _compare(self, before: dict[str, Alarm], changes: list[AlarmChange]) -> None:
        after = {a.key: a for a in self.book.alarms()}
        for key, alarm in before.items():
            assert key in after or alarm.acked, "an alarm that nobody has seen left the list"
            assert key in after or not alarm.active or not self._holds(key, alarm), "an alarm left while it holds"
            if alarm.active and (key not in after or not after[key].active):
                assert not self._holds(key, alarm), "an alarm ended while it holds"
                assert not self._is_blind(key, alarm), "no data cleared an alarm"
        for key, alarm in after.items():
            assert not alarm.active or alarm.no_data == self._is_blind(key, alarm), "blindness is not shown"
            worse = key in before and before[key].active and alarm.priority < before[key].priority
            assert not worse or not alarm.acked, "an alarm grew worse without a sound"
        assert all(c.who is None for c in changes)
        for change in changes:
            assert change.change not in ENDS or change.key in before
            assert change.change is not Reason.SUPPRESSED or not before.get(change.key)

    def _holds(self, key: str, alarm: Alarm) -> bool:
        if key == "store":
            return self.store_error is not None
        if key.startswith("node:"):
            return self.silence_s[key.removeprefix("node:")] >= 15.0
        if key.startswith(("sensor:", "sensor-uncertain:")):
            own = {k[2] for k in self.open if k[0] is FindingKind.SENSOR and k[1] == alarm.sensor}
            return bool(own & DOUBTS if key.startswith("sensor-uncertain:") else own - DOUBTS)
        return any(k[0] == key for k in self.open)

    def _is_blind(self, key: str, alarm: Alarm) -> bool:
        if alarm.sensor is None:
            return False
        silent = self.silence_s[NODE_OF[alarm.sensor]] >= 15.0
        return silent or (not key.startswith(("sensor:", "sensor-uncertain:")) and alarm.sensor in self.no_data)


def is_listed(alarm: Alarm) -> bool:
    """Return whether people must be shown `alarm`."""
    return alarm.active or not alarm.acked or alarm.shelved_until is not None


BookMachine.TestCase.settings = settings(max_examples=100, stateful_step_count=40, deadline=None)
TestBook = BookMachine.TestCase
