"""Requests and answers of the HTTP interface, with a scripted service behind it."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest
from starlette.testclient import TestClient

from monitor.model import Outlook
from monitor.publish.http_api import ToldEntry, build_app
from monitor.publish.messages import (
    AlarmReport,
    EntryLine,
    FindingLine,
    Firing,
    Kiln,
    Links,
    LoadLine,
    Snapshot,
    VoiceAnswer,
)
from monitor.publish.websocket import Hub
from monitor.wire.practice import Answer, Order, Practice

FIRING = Firing(id="20261124T2236Z", begun=1.0, ended=None)
STOKED = EntryLine("a1b2", 5.0, "stoked", "side", "Ada")
GOLDEN = Path(__file__).parents[2] / "golden" / "messages"
OUTLOOK_FILE = GOLDEN.parent / "outlook.json"
OUTLOOK = msgspec.convert(json.loads(OUTLOOK_FILE.read_text()), Outlook)
PRACTICE = msgspec.convert(json.loads((GOLDEN / "snapshot.json").read_text())["practice"], Practice)


class Scripted:
    """A service that answers what the test wants and notes what it was asked."""

    well = True
    is_open = True
    is_practice = True

    def __init__(self) -> None:
        self.asked: list[tuple[object, ...]] = []

    def health(self) -> tuple[bool, dict[str, Any]]:
        """Tell the scripted health."""
        return self.well, {"store": "working" if self.well else "disk full"}

    def metrics(self) -> str:
        """Return the smallest OpenMetrics text."""
        return "# EOF\n"

    def count_refused(self) -> None:
        """Note it."""
        self.asked.append(("refused",))

    async def history(self, begin: float | None, end: float | None, columns: int) -> bytes:
        """Note the question."""
        self.asked.append(("history", begin, end, columns))
        return b"\0\1"

    async def findings(self) -> list[FindingLine]:
        """Return one stall."""
        return [FindingLine(2.0, "stall", "begin", "middle", 1.0, 3.1, "Cel/h", "stands still")]

    async def entries(self) -> list[EntryLine]:
        """Return one stoke."""
        return [STOKED]

    async def enter(self, told: ToldEntry) -> tuple[EntryLine, bool] | None:
        """Note what is told; without a firing nothing is taken, and while ill nothing kept."""
        self.asked.append(("entry", told.id, told.what, told.door, told.ago_s, told.who))
        return (STOKED, self.well) if self.is_open else None

    def outlook(self, celsius: float | None, cone: str | None) -> Outlook | None:
        """Note the question; know cone 6, and nothing while ill."""
        self.asked.append(("outlook", celsius, cone))
        if cone not in (None, "6"):
            raise ValueError(f"no cone {cone!r}")
        return OUTLOOK if self.well else None

    async def firings(self) -> list[Firing]:
        """Return one firing."""
        return [FIRING]

    async def mark_seen(self, key: str, who: str | None) -> bool | None:
        """Know two alarms, and store what is said of one."""
        self.asked.append(("seen", key, who))
        return {"sensor:firebox": True, "stall": False}.get(key)

    async def shelve(self, key: str, for_s: float, why: str, who: str | None) -> tuple[str, bool]:
        """Answer with the key, which is the word here."""
        self.asked.append(("shelve", key, for_s, why, who))
        return key, self.well

    async def unshelve(self, key: str, who: str | None) -> tuple[str, bool]:
        """Answer with the key, which is the word here."""
        self.asked.append(("unshelve", key, who))
        return key, self.well

    def voice(self, name: str, error: str | None) -> VoiceAnswer:
        """Let the first priority sound."""
        self.asked.append(("voice", name, error))
        return VoiceAnswer("e", 7, 1, louder=False, silenced=False, stuck=None, armed=True, test=None)

    async def journal(self) -> bytes:
        """Return two lines."""
        return b'{"key":"fall"}\n{"key":"stall"}\n'

    async def report(self) -> AlarmReport:
        """Return the report of a quiet hour."""
        return AlarmReport(
            1.0, 1, 1, 1, {"1": 0, "2": 1, "3": 0}, [("stall", "Stall", 1)], [LoadLine(0, 3600, 1, 1, 1)]
        )

    async def silence(self, who: str | None) -> float:
        """Silence for a minute."""
        self.asked.append(("silence", who))
        return 60.0

    async def start_firing(self) -> Firing | None:
        """Begin, where anything can be kept."""
        return FIRING if self.well else None

    async def end_firing(self) -> Firing | None:
        """End what is open."""
        return FIRING if self.is_open else None

    def practice(self) -> Practice | None:
        """Tell of the kiln to practise on, where there is one."""
        return PRACTICE if self.is_practice else None

    async def practise(self, order: Order) -> Answer | None:
        """Note the order; a choked firebox takes no wood."""
        self.asked.append(("order", order))
        if order.what == "rake":
            return None
        return Answer(0, done=order.what != "stoke", why="full" if order.what == "stoke" else None)


def make_snapshot(epoch: str, seq: int) -> Snapshot:
    """Return an empty present."""
    links = Links(node_age_s={}, counters={}, store_error=None, source_error={}, panels_with_sound=0)
    kiln = Kiln("Quiet Hill", "quiet-hill", "UTC")
    return Snapshot(epoch, seq, 1.0, 1.0, None, kiln, None, None, None, [], [], [], 0.0, [], None, links, [], False)


@pytest.fixture
def service() -> Scripted:
    """Return a fresh scripted service."""
    return Scripted()


@pytest.fixture
def client(service: Scripted, tmp_path: Path) -> TestClient:
    """Return a client of the interface over `service`, with a panel of one page."""
    (tmp_path / "index.html").write_text("<title>panel</title>")
    hub = Hub(make_snapshot, lambda: 0, lambda: 0.0)
    app = build_app(service, hub, names=frozenset(), panel=tmp_path, version="1.2.3")
    return TestClient(app, base_url="http://127.0.0.1")


def test_health_is_200_while_all_works_and_503_with_the_reason_otherwise(client: TestClient, service: Scripted) -> None:
    """A watchdog reads the code, a person the reason."""
    assert client.get("/healthz").status_code == 200
    service.well = False
    reply = client.get("/healthz")

    assert reply.status_code == 503
    assert reply.json() == {"store": "disk full"}


def test_refused_requests_are_counted(client: TestClient, service: Scripted) -> None:
    """Nothing is silently turned away."""
    client.get("/healthz", headers={"host": "evil.example"})

    assert service.asked == [("refused",)]


def test_metrics_are_openmetrics(client: TestClient) -> None:
    """The type says so, the text ends as the standard wants."""
    reply = client.get("/metrics")

    assert reply.headers["content-type"].startswith("application/openmetrics-text; version=1.0.0")
    assert reply.text.endswith("# EOF\n")


def test_snapshot_is_the_one_panels_get(client: TestClient) -> None:
    """The same message, by request."""
    assert client.get("/api/snapshot").json()["kind"] == "snapshot"


def test_history_defaults_to_the_whole_firing(client: TestClient, service: Scripted) -> None:
    """Begin, end and columns go through; binary comes back."""
    assert client.get("/api/history").content == b"\0\1"
    client.get("/api/history", params={"begin": 10, "end": 20, "columns": 5})

    assert service.asked == [("history", None, None, 2000), ("history", 10.0, 20.0, 5)]


@pytest.mark.parametrize(
    "params", [{"begin": "nan"}, {"columns": 0}, {"columns": 4001}, {"begin": 2, "end": 1}, {"end": "1e12"}]
)
def test_absurd_history_is_refused(client: TestClient, params: dict[str, str]) -> None:
    """Nothing absurd reaches the store."""
    assert client.get("/api/history", params=params).status_code == 422


def test_findings_and_firings_are_lists(client: TestClient) -> None:
    """Each as the message model writes it."""
    assert client.get("/api/findings").json()[0]["kind"] == "stall"
    assert client.get("/api/firings").json() == [{"id": "20261124T2236Z", "begun": 1.0, "ended": None}]


def test_seen_names_the_alarm_and_who(client: TestClient, service: Scripted) -> None:
    """A known alarm is acknowledged, stored or not yet; an unknown one is told."""
    assert client.post("/api/alarms/sensor:firebox/seen", json={"who": "Ada"}).status_code == 204
    assert client.post("/api/alarms/stall/seen", json={"who": "Ada"}).status_code == 202
    assert client.post("/api/alarms/fall/seen", json={}).status_code == 404
    assert service.asked == [("seen", "sensor:firebox", "Ada"), ("seen", "stall", "Ada"), ("seen", "fall", None)]


def test_silence_tells_how_long(client: TestClient) -> None:
    """One minute."""
    assert client.post("/api/silence", json={"who": None}).json() == {"silenced_s": 60.0}


def test_unknown_words_in_a_body_are_refused(client: TestClient) -> None:
    """A misspelt key is an error, not a silent nothing."""
    assert client.post("/api/silence", json={"whom": "Ada"}).status_code == 422


PUT_OFF = {"for_s": 600.0, "why": "new wire", "who": "Ada"}


@pytest.mark.parametrize(
    ("word", "code"), [("shelved", 204), ("no-such-alarm", 404), ("never-shelved", 409), ("too-long", 409)]
)
def test_an_alarm_is_put_off_or_the_reason_is_told(client: TestClient, service: Scripted, word: str, code: int) -> None:
    """204 once stored; what may not be says why."""
    reply = client.post(f"/api/alarms/{word}/shelve", json=PUT_OFF)

    assert reply.status_code == code
    assert service.asked == [("shelve", word, 600.0, "new wire", "Ada")]
    assert code == 204 or reply.json()["detail"]


@pytest.mark.parametrize("broken", [{"for_s": 0.0}, {"for_s": -5.0}, {"why": ""}, {"why": "x" * 121}, {"x": 1}])
def test_putting_off_needs_a_time_and_a_reason(client: TestClient, service: Scripted, broken: dict[str, Any]) -> None:
    """Nothing is asked of the service that says neither for how long nor why."""
    assert client.post("/api/alarms/stall/shelve", json=PUT_OFF | broken).status_code == 422
    assert service.asked == []


def test_what_was_put_off_is_taken_back(client: TestClient, service: Scripted) -> None:
    """202 while nothing can be stored."""
    service.well = False

    assert client.post("/api/alarms/unshelved/unshelve", json={"who": "Ada"}).status_code == 202
    assert service.asked == [("unshelve", "unshelved", "Ada")]


def test_a_sounder_asks_what_should_be_heard(client: TestClient, service: Scripted) -> None:
    """With its name and what is wrong with it; a name is plain text."""
    told = client.post("/api/voice", json={"name": "shed", "error": "no card"}).json()

    assert (told["beats"], told["sounding"], told["armed"]) == (7, 1, True)
    assert service.asked == [("voice", "shed", "no card")]
    assert client.post("/api/voice", json={"name": "<b>"}).status_code == 422


def test_journal_and_report_are_read(client: TestClient) -> None:
    """The journal as JSON lines, the report as one object."""
    journal, report = client.get("/api/alarms/journal"), client.get("/api/alarms/report").json()

    assert journal.headers["content-type"] == "application/jsonl"
    assert [json.loads(line)["key"] for line in journal.text.splitlines()] == ["fall", "stall"]
    assert (report["share"], report["most_frequent"]) == ({"1": 0, "2": 1, "3": 0}, [["stall", "Stall", 1]])


def test_an_entry_is_told_and_read_back(client: TestClient, service: Scripted) -> None:
    """201 once stored, 202 while it cannot be, 409 where no firing is open."""
    told = {"id": "a1b2", "what": "stoked", "door": "side", "ago_s": 4.5, "who": "Ada"}
    kept = client.post("/api/entries", json=told)
    service.well = False
    waiting = client.post("/api/entries", json={"id": "a1b3", "what": "closed-up"})
    service.is_open = False
    refused = client.post("/api/entries", json=told)

    assert [reply.status_code for reply in (kept, waiting, refused)] == [201, 202, 409]
    assert kept.json() == {"id": "a1b2", "time": 5.0, "what": "stoked", "door": "side", "who": "Ada", "note": None}
    assert "no firing is open" in refused.json()["detail"]
    assert client.get("/api/entries").json() == [kept.json()]
    assert service.asked[:2] == [
        ("entry", "a1b2", "stoked", "side", 4.5, "Ada"),
        ("entry", "a1b3", "closed-up", None, 0.0, None),
    ]


@pytest.mark.parametrize(
    "told",
    [
        {"id": "a", "what": "stoked"},
        {"id": "a", "what": "stoked", "door": "roof"},
        {"id": "a", "what": "closed-up", "door": "front"},
        {"id": "a", "what": "sang"},
        {"id": "a b", "what": "closed-up"},
        {"id": "a", "what": "closed-up", "ago_s": -1},
        {"id": "a", "what": "closed-up", "who": "A" * 81},
        {"what": "closed-up"},
    ],
)
def test_an_entry_that_is_none_goes_no_further(client: TestClient, service: Scripted, told: dict[str, Any]) -> None:
    """It is refused here with what is allowed."""
    assert client.post("/api/entries", json=told).status_code == 422
    assert service.asked == []


def test_firing_begins_and_ends(client: TestClient, service: Scripted) -> None:
    """Ending what is not open is a conflict, beginning what cannot be kept is refused."""
    assert client.post("/api/firing/start").json()["id"] == FIRING.id
    assert client.post("/api/firing/end").json()["id"] == FIRING.id
    service.is_open = False
    service.well = False
    assert client.post("/api/firing/end").status_code == 409
    assert client.post("/api/firing/start").status_code == 503


def test_a_practice_is_told_and_orders_go_through(client: TestClient, service: Scripted) -> None:
    """The present as panels get it; an order reaches the kiln as it was given."""
    assert client.get("/api/practice").json() == json.loads((GOLDEN / "snapshot.json").read_text())["practice"]
    reply = client.post("/api/practice", json={"what": "damper", "to": 0.4})

    assert (reply.status_code, reply.json()) == (200, {"done": True})
    assert service.asked == [("order", Order(0, "damper", to=0.4))]


def test_an_order_that_is_not_done_says_why(client: TestClient, service: Scripted) -> None:
    """The kiln's word with 409; no word at all with 503."""
    refused = client.post("/api/practice", json={"what": "stoke", "armful": "big"})
    unanswered = client.post("/api/practice", json={"what": "rake"})

    assert (refused.status_code, refused.json()) == (409, {"detail": "full"})
    assert (unanswered.status_code, unanswered.json()) == (503, {"detail": "no-answer"})


@pytest.mark.parametrize(
    "order", [{"what": "explode"}, {"what": "damper", "to": 1.5}, {"what": "stoke", "armful": "wet"}, {"whom": "me"}]
)
def test_an_order_that_is_none_reaches_no_kiln(client: TestClient, service: Scripted, order: dict[str, Any]) -> None:
    """It is refused here with what is allowed."""
    assert client.post("/api/practice", json=order).status_code == 422
    assert service.asked == []


def test_a_real_kiln_cannot_be_practised_on(client: TestClient, service: Scripted) -> None:
    """Neither looked at nor touched: 404 says where there is one."""
    service.is_practice = False
    replies = [client.get("/api/practice"), client.post("/api/practice", json={"what": "take-over"})]

    assert [reply.status_code for reply in replies] == [404, 404]
    assert "nightstoke demo" in replies[1].json()["detail"]
    assert service.asked == []


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null"])
def test_a_foreign_page_cannot_fire_the_kiln(client: TestClient, service: Scripted, origin: str) -> None:
    """An order from another origin is refused before anything sees it."""
    reply = client.post("/api/practice", json={"what": "take-over"}, headers={"origin": origin})

    assert reply.status_code == 403
    assert service.asked == [("refused",)]


def test_every_endpoint_is_in_the_interface_description(client: TestClient) -> None:
    """Other software reads it there."""
    paths = json.loads(client.get("/openapi.json").text)["paths"]

    assert set(paths) == {
        "/healthz",
        "/metrics",
        "/api/snapshot",
        "/api/voice",
        "/api/alarms/{key}/shelve",
        "/api/alarms/{key}/unshelve",
        "/api/alarms/journal",
        "/api/alarms/report",
        "/api/history",
        "/api/findings",
        "/api/outlook",
        "/api/firings",
        "/api/entries",
        "/api/alarms/{key}/seen",
        "/api/silence",
        "/api/firing/start",
        "/api/firing/end",
        "/api/practice",
    }


def test_panel_is_the_front_page(client: TestClient) -> None:
    """The address alone opens it."""
    assert "panel" in client.get("/").text


def test_the_outlook_answers_what_was_asked_for(client: TestClient, service: Scripted) -> None:
    """Heat work, evenness and forecast as JSON, of the shape that the panel reads."""
    reply = client.get("/api/outlook", params={"celsius": 1200.0, "cone": "6"})

    assert reply.status_code == 200
    assert reply.json() == json.loads(OUTLOOK_FILE.read_text())
    assert service.asked[-1] == ("outlook", 1200.0, "6")


@pytest.mark.parametrize("asked", [{"cone": "16"}, {"cone": "toolong"}, {"celsius": "-1"}, {"celsius": "9999"}])
def test_what_no_kiln_can_reach_is_refused(client: TestClient, asked: dict[str, str]) -> None:
    """A cone that there is none of, a temperature beyond kilns."""
    assert client.get("/api/outlook", params=asked).status_code == 422


def test_before_anything_was_judged_there_is_no_outlook(client: TestClient, service: Scripted) -> None:
    """404 and why."""
    service.well = False
    reply = client.get("/api/outlook")

    assert reply.status_code == 404
    assert "first half minute" in reply.json()["detail"]
