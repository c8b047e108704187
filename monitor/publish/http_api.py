"""The HTTP interface: health, metrics, history, what a panel may do, and the panel itself.

The service behind it is a Protocol: this file knows requests and answers, never where a number comes from.
"""

from collections.abc import Awaitable
from pathlib import Path
from typing import Annotated, Any, Literal, Protocol, Self

from fastapi import FastAPI, HTTPException, Query, WebSocket
from fastapi.responses import JSONResponse, PlainTextResponse, Response
from fastapi.staticfiles import StaticFiles
from pydantic import BaseModel, ConfigDict, Field, model_validator

from monitor.model import EntryKind, Outlook
from monitor.publish.guard import Guard
from monitor.publish.messages import AlarmReport, EntryLine, FindingLine, Firing, Snapshot, VoiceAnswer, encode
from monitor.publish.websocket import Hub
from monitor.wire.entry_line import ID_PATTERN, MOST_WHO_CHARS, NOTE_PATTERN, NOTED
from monitor.wire.practice import Answer, Armful, Order, Practice, What

JSON_LINES_TYPE = "application/jsonl"
OPENMETRICS_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
MOST_COLUMNS = 4000
LONGEST_TIME = 4.0e9
HOTTEST_C = 2000.0
LONGEST_AGO_S = 24 * 3600.0
MOST_WHY_CHARS = 120
REFUSALS = {
    "no-such-alarm": (404, "no alarm of that key is active"),
    "never-shelved": (409, "this alarm is never put off"),
    "too-long": (409, "not for so long; shelve_most_s of the alarm is the longest"),
}


class Who(BaseModel):
    """Who did it, as far as the panel knows."""

    model_config = ConfigDict(extra="forbid")
    who: Annotated[str, Field(max_length=80)] | None = None


class ToldEntry(BaseModel):
    """What a person tells of what was done; told again under the same id it stays one."""

    model_config = ConfigDict(extra="forbid")
    id: Annotated[str, Field(pattern=f"^{ID_PATTERN}$")]
    what: EntryKind
    door: Literal["front", "side"] | None = None
    ago_s: Annotated[float, Field(ge=0, le=LONGEST_AGO_S, allow_inf_nan=False)] = 0.0
    who: Annotated[str, Field(max_length=MOST_WHO_CHARS)] | None = None
    note: Annotated[str, Field(pattern=f"^{NOTE_PATTERN}$")] | None = None

    @model_validator(mode="after")
    def _has_its_parts(self) -> Self:
        if (self.door is None) is (self.what is EntryKind.STOKED):
            raise ValueError("a stoke needs a door, front or side, and nothing else has one")
        if (self.note is None) is (self.what in NOTED):
            raise ValueError(
                "what is ticked, answered or heard needs a note such as handover/drink; nothing else has one"
            )
        return self


class PutOff(BaseModel):
    """For how long an alarm is put off, why, and by whom."""

    model_config = ConfigDict(extra="forbid")
    for_s: Annotated[float, Field(gt=0, le=LONGEST_AGO_S, allow_inf_nan=False)]
    why: Annotated[str, Field(min_length=1, max_length=MOST_WHY_CHARS)]
    who: Annotated[str, Field(max_length=MOST_WHO_CHARS)] | None = None


class Asking(BaseModel):
    """A sounder that asks what should be heard: its name, and what is wrong with it."""

    model_config = ConfigDict(extra="forbid")
    name: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._-]{0,39}$")]
    error: Annotated[str, Field(max_length=400)] | None = None


class PracticeOrder(BaseModel):
    """What a person at a practice wants done; see `monitor/wire/practice.py`."""

    model_config = ConfigDict(extra="forbid")
    what: What
    armful: Armful | None = None
    zone: Annotated[str, Field(max_length=80)] | None = None
    to: Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)] | None = None


class Service(Protocol):
    """What the interface needs of the running service."""

    def health(self) -> tuple[bool, dict[str, Any]]:
        """Return whether all is well, and the parts of it."""

    def metrics(self) -> str:
        """Return the OpenMetrics text."""

    def count_refused(self) -> None:
        """Count a request that was refused for its host, origin or size."""

    def history(self, begin: float | None, end: float | None, columns: int) -> Awaitable[bytes]:
        """Return min/max columns as bytes, the whole firing where begin or end is None."""

    def findings(self) -> Awaitable[list[FindingLine]]:
        """Return the findings of the firing on show, oldest first."""

    def entries(self) -> Awaitable[list[EntryLine]]:
        """Return what people told in the firing on show, oldest first."""

    def enter(self, told: ToldEntry) -> Awaitable[tuple[EntryLine, bool] | None]:
        """Take in what somebody told; return it and whether it is on disk, None where no firing is open."""

    def outlook(self, celsius: float | None, cone: str | None) -> Outlook | None:
        """Return heat work, evenness and forecast, None before anything was judged; ValueError for an unknown cone."""

    def firings(self) -> Awaitable[list[Firing]]:
        """Return all stored firings, oldest first."""

    def mark_seen(self, key: str, who: str | None) -> Awaitable[bool | None]:
        """Acknowledge one alarm; return whether that is on disk, None where there is no alarm of that key."""

    def shelve(self, key: str, for_s: float, why: str, who: str | None) -> Awaitable[tuple[str, bool]]:
        """Put off one alarm; return the word of what came of it (see REFUSALS), and whether that is on disk."""

    def unshelve(self, key: str, who: str | None) -> Awaitable[tuple[str, bool]]:
        """Take back that one alarm was put off; return as `shelve` does."""

    def voice(self, name: str, error: str | None) -> VoiceAnswer:
        """Take note of a sounder and return what it should let be heard."""

    def journal(self) -> Awaitable[bytes]:
        """Return the alarm journal of the firing on show, one JSON object a line."""

    def report(self) -> Awaitable[AlarmReport]:
        """Return how much the alarms of the firing on show asked of people."""

    def silence(self, who: str | None) -> Awaitable[float]:
        """Silence all sound for a minute; return the seconds."""

    def start_firing(self) -> Awaitable[Firing | None]:
        """End what is open and begin a new firing now; None where nothing can be kept."""

    def end_firing(self) -> Awaitable[Firing | None]:
        """End the open firing now; None where none is open."""

    def practice(self) -> Practice | None:
        """Return the present of the kiln to practise on, None where this is none."""

    def practise(self, order: Order) -> Awaitable[Answer | None]:
        """Pass an order on to the kiln to practise on; return its answer, None where it gives none."""


def build_app(service: Service, hub: Hub, *, names: frozenset[str], panel: Path | None, version: str) -> FastAPI:
    """Return the application; `names` are the host names it answers to, `panel` the folder of the built panel."""
    app = FastAPI(title="Nightstoke", version=version, docs_url=None, redoc_url=None)
    app.add_middleware(Guard, names=names, on_refused=service.count_refused)
    _add_state(app, service, hub)
    _add_outlook(app, service)
    _add_alarms(app, service)
    _add_actions(app, service)
    _add_practice(app, service)
    if panel is not None:
        app.mount("/", StaticFiles(directory=panel, html=True), name="panel")
    return app


def _add_state(app: FastAPI, service: Service, hub: Hub) -> None:
    @app.get("/healthz", summary="Whether every source, the store and the engine work: 200 or 503 with the reason")
    async def healthz() -> JSONResponse:
        well, parts = service.health()
        return JSONResponse(parts, 200 if well else 503)

    @app.get("/metrics", summary="OpenMetrics text", response_class=PlainTextResponse)
    async def metrics() -> Response:
        return Response(service.metrics(), media_type=OPENMETRICS_TYPE)

    @app.get("/api/snapshot", summary="The present, as a panel gets it at connect")
    async def snapshot() -> Response:
        present: Snapshot = hub.present()
        return Response(encode(present), media_type="application/json")

    @app.get("/api/history", summary="Min and max per column and sensor; layout in DEVELOPERS.md")
    async def history(
        begin: Annotated[float | None, Query(ge=0, le=LONGEST_TIME, allow_inf_nan=False)] = None,
        end: Annotated[float | None, Query(ge=0, le=LONGEST_TIME, allow_inf_nan=False)] = None,
        columns: Annotated[int, Query(ge=1, le=MOST_COLUMNS)] = 2000,
    ) -> Response:
        if begin is not None and end is not None and begin >= end:
            raise HTTPException(422, "begin must lie before end")
        return Response(await service.history(begin, end, columns), media_type="application/octet-stream")

    @app.get("/api/findings", summary="The findings of the firing on show, oldest first")
    async def findings() -> Response:
        return Response(encode(await service.findings()), media_type="application/json")

    @app.get("/api/entries", summary="What people told in the firing on show, oldest first")
    async def entries() -> Response:
        return Response(encode(await service.entries()), media_type="application/json")

    @app.get("/api/firings", summary="All stored firings, oldest first")
    async def firings() -> Response:
        return Response(encode(await service.firings()), media_type="application/json")

    @app.websocket("/live")
    async def live(socket: WebSocket) -> None:
        await hub.serve(socket)


def _add_outlook(app: FastAPI, service: Service) -> None:
    @app.get("/api/outlook", summary="Heat work, evenness and forecast; an estimate, the cones in the kiln decide")
    async def outlook(
        celsius: Annotated[float | None, Query(ge=0, le=HOTTEST_C, allow_inf_nan=False)] = None,
        cone: Annotated[str | None, Query(max_length=3)] = None,
    ) -> Response:
        try:
            found = service.outlook(celsius, cone)
        except ValueError as error:
            raise HTTPException(422, str(error)) from error
        if found is None:
            raise HTTPException(404, "nothing was judged yet; the first half minute of readings is needed")
        return Response(encode(found), media_type="application/json")


def _add_actions(app: FastAPI, service: Service) -> None:
    @app.post("/api/entries", summary="Tell what was done at the kiln: 201 once stored, 202 while it cannot be")
    async def enter(told: ToldEntry) -> Response:
        answer = await service.enter(told)
        if answer is None:
            raise HTTPException(409, "no firing is open; the first reading begins one")
        line, is_stored = answer
        return Response(encode(line), 201 if is_stored else 202, media_type="application/json")

    @app.post("/api/silence", summary="Silence all sound for 60 s; a new or worse alarm sounds again")
    async def silence(who: Who) -> dict[str, float]:
        return {"silenced_s": await service.silence(who.who)}

    @app.post("/api/firing/start", summary="End what is open and begin a new firing")
    async def start_firing() -> Response:
        begun = await service.start_firing()
        if begun is None:
            raise HTTPException(503, "nothing can be stored now; see /healthz")
        return Response(encode(begun), media_type="application/json")

    @app.post("/api/firing/end", summary="End the open firing")
    async def end_firing() -> Response:
        ended = await service.end_firing()
        if ended is None:
            raise HTTPException(409, "no firing is open")
        return Response(encode(ended), media_type="application/json")


def _add_alarms(app: FastAPI, service: Service) -> None:
    @app.get("/api/alarms/journal", summary="Every change of an alarm of the firing on show, as JSON lines")
    async def journal() -> Response:
        return Response(await service.journal(), media_type=JSON_LINES_TYPE)

    @app.get("/api/alarms/report", summary="How much the alarms of the firing on show asked of people")
    async def report() -> Response:
        return Response(encode(await service.report()), media_type="application/json")

    @app.post("/api/alarms/{key}/seen", summary="Acknowledge one alarm: 204 once stored, 202 while it cannot be")
    async def seen(key: str, who: Who) -> Response:
        is_stored = await service.mark_seen(key, who.who)
        if is_stored is None:
            raise HTTPException(404, f"no alarm {key!r} is active or unseen")
        return Response(status_code=204 if is_stored else 202)

    @app.post("/api/voice", summary="A sounder asks every 2 s what should be heard")
    async def voice(asking: Asking) -> Response:
        return Response(encode(service.voice(asking.name, asking.error)), media_type="application/json")

    @app.post("/api/alarms/{key}/shelve", summary="Put off one alarm: 204 once stored, 202 while it cannot be")
    async def shelve(key: str, put_off: PutOff) -> Response:
        return _answer(*await service.shelve(key, put_off.for_s, put_off.why, put_off.who))

    @app.post("/api/alarms/{key}/unshelve", summary="Take back that an alarm was put off")
    async def unshelve(key: str, who: Who) -> Response:
        return _answer(*await service.unshelve(key, who.who))


def _answer(word: str, is_stored: bool) -> Response:  # noqa: FBT001 - a pair that the service returns
    if word in REFUSALS:
        raise HTTPException(*REFUSALS[word])
    return Response(status_code=204 if is_stored else 202)


def _add_practice(app: FastAPI, service: Service) -> None:
    def present() -> Practice:
        found = service.practice()
        if found is None:
            raise HTTPException(404, "this is no kiln to practise on; start one with 'nightstoke demo'")
        return found

    @app.get("/api/practice", summary="What a person at the simulated kiln may know; 404 at a real one")
    async def practice() -> Response:
        return Response(encode(present()), media_type="application/json")

    @app.post("/api/practice", summary="Do something at the simulated kiln: 409 with one word why not")
    async def practise(order: PracticeOrder) -> dict[str, bool]:
        present()
        answer = await service.practise(Order(0, order.what, order.armful, order.zone, order.to))
        if answer is None:
            raise HTTPException(503, "no-answer")
        if not answer.done:
            raise HTTPException(409, answer.why)
        return {"done": True}
