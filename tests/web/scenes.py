"""Moments of an invented firing, as the service would tell them."""

from typing import Any

import msgspec

from monitor.publish.messages import (
    AlarmLine,
    Firing,
    Help,
    Kiln,
    Links,
    PlanLine,
    PromptAnswer,
    PromptLine,
    PromptPoint,
    Sensor,
    Snapshot,
    Value,
)
from monitor.wire.practice import Done, Lead, Port, Practice, Report, Settings, Sight

CLOCK = 1_780_000_000.0
LIT = CLOCK - 61 * 3600

LOOK = (
    "Stand aside, open slowly, look. Dark, smoky or deep embers: do not stoke; rake or open air low, wait 10 min. "
    "Clear, short flame, thin embers: stoke."
)


def value(sensor: str, celsius: float | None, climb: float | None = 32.0, **other: Any) -> Value:
    """Tell a sensor's newest word."""
    told = {"status": "ok", "quality": "good", "age_s": 0.4, "climb_uncertainty_c_per_h": 3.2} | other
    if climb is None:
        told["climb_uncertainty_c_per_h"] = None
    return Value(sensor=sensor, celsius=celsius, climb_c_per_h=climb, **told)


def quiet(**other: Any) -> Snapshot:
    """Tell a calm moment of the climb with four sensors."""
    told: dict[str, Any] = {
        "epoch": "one",
        "seq": 100,
        "clock": CLOCK,
        "speed": 1.0,
        "test": None,
        "kiln": Kiln("Demo kiln", "demo-kiln", "Europe/Lisbon"),
        "firing": Firing("20260525T0426Z", LIT, None),
        "plan": PlanLine([(LIT, 20.0), (LIT + 48 * 3600, 800.0), (LIT + 96 * 3600, 1280.0)], "middle"),
        "guide": "middle",
        "sensors": [
            Sensor("firebox", "firebox", "S", "shed-1/t1"),
            Sensor("front", "front", "S", "shed-1/t2"),
            Sensor("middle", "middle", "K", "shed-1/t3"),
            Sensor("back", "back", "K", "shed-1/t4"),
        ],
        "values": [
            value("firebox", 1104.2, 41.0),
            value("front", 1042.8, 38.0),
            value("middle", 1013.6, 32.0),
            value("back", 968.1, 2.0),
        ],
        "alarms": [],
        "silenced_s": 0.0,
        "findings": [],
        "last_stoke": CLOCK - 340,
        "links": Links({"shed-1": 0.4}, {}, None, {}, 1),
        "entries": [],
        "closed_up": False,
    }
    return Snapshot(**(told | other))


def practice(**other: Any) -> Practice:
    """Tell a practice that has gone on for half an hour, the kiln in hand."""
    told: dict[str, Any] = {
        "in_hand": True,
        "begun": CLOCK - 1800,
        "stokes": 7,
        "wood_kg": 31.5,
        "last_stoke": CLOCK - 130,
        "lead": Lead("high-fire", 4.0, 20.0, 2.6, 6.0, ("front", "middle", "back")),
        "sight": Sight("long", "short", "grey", "deep", CLOCK - 130),
        "settings": Settings(0.8, 0.213, 1.0),
        "notches": (0.0, 0.1, 0.2, 0.4, 0.65, 0.8, 1.0),
        "ports": tuple(Port(place, place) for place in ("front", "middle", "back")),
        "last": Done(CLOCK - 130, "side-stoke", "middle", 1.8),
        "report": None,
    }
    return Practice(**(told | other))


def watched(**other: Any) -> Practice:
    """Tell a practice that nobody has taken over."""
    return practice(**({"in_hand": False, "begun": None, "stokes": 0, "wood_kg": 0.0, "last": None} | other))


def report(**other: Any) -> Report:
    """Tell how a practice went."""
    told: dict[str, Any] = {
        "begun": CLOCK - 1800, "ended": CLOCK, "stokes": 7, "side_stokes": 2, "wood_kg": 31.5,
        "mean_interval_min": 4.6, "agreed_interval_min": 4.0, "longest_gap_min": 9.5, "falls": 1, "stalls": 0,
        "lowest_c": 1001.0, "highest_c": 1014.0, "warmest": ("front", 1020.0), "coldest": ("back", 968.0),
    }  # fmt: skip
    return Report(**(told | other))


def fall(**other: Any) -> AlarmLine:
    """Tell the alarm of a falling fire."""
    told: dict[str, Any] = {
        "key": "fall",
        "row": "fall",
        "priority": 1,
        "active": True,
        "acked": False,
        "no_data": False,
        "since": CLOCK - 130,
        "since_s": 130.0,
        "acked_by": None,
        "sensor": "front",
        "title": "Temperature falling",
        "text": "Front is 12 degC below its best of the last half hour.",
        "cause": "unfed, embers choked, port open",
        "consequence": "hours lost, cracks",
        "action": LOOK + " See to ports and damper.",
        "act_in_s": 600.0,
        "shelve_most_s": 900.0,
    }
    return AlarmLine(**(told | other))


def broken_sensor(**other: Any) -> AlarmLine:
    """Tell the alarm of an open wire."""
    told = {
        "key": "sensor:back",
        "row": "sensor-failed",
        "priority": 2,
        "title": "Sensor failed",
        "text": "Back: wire open.",
        "cause": "wire, sheath",
        "consequence": "blind at the back",
        "action": "Go by the next sensor; replace this one.",
        "act_in_s": 900.0,
        "shelve_most_s": 0.0,
        "sensor": "back",
    }
    return fall(**(told | other))


def spread(**other: Any) -> AlarmLine:
    """Tell the alert of an uneven chamber."""
    told = {
        "key": "spread",
        "row": "spread",
        "priority": 3,
        "title": "Front and back drift apart",
        "action": "Feed the ports just ahead of the cold place; damper.",
        "act_in_s": 1800.0,
        "shelve_most_s": 28800.0,
    }
    return fall(**(told | other))


def put_off(**other: Any) -> AlarmLine:
    """Tell an uneven chamber that somebody put off."""
    told = {"shelved_s": 1260.0, "shelved_by": "Ines", "shelved_why": "known and harmless"}
    return spread(**(told | other))


def sign_of_life(**other: Any) -> PromptLine:
    """Tell the question whether anybody is there."""
    told: dict[str, Any] = {
        "key": "sign-of-life",
        "title": "Are you there?",
        "text": "Nobody has touched a screen, a button or a door for a while.",
        "since": CLOCK - 20,
        "since_s": 20.0,
        "chime": True,
        "answers": [PromptAnswer("here", "I am here")],
    }
    return PromptLine(**(told | other))


def closed_up_question(**other: Any) -> PromptLine:
    """Tell the question whether the kiln is closed up."""
    told = {
        "key": "phase",
        "title": "Is the kiln closed up?",
        "text": "It falls fast and nobody has stoked for an hour.",
        "answers": [
            PromptAnswer("closed-up", "Yes, it is closed up"),
            PromptAnswer("still-fired", "No, we fire on"),
        ],
    }
    return sign_of_life(**(told | other))


def handover(**other: Any) -> PromptLine:
    """Tell the reminder at the change of a watch, one point ticked."""
    told = {
        "key": "handover",
        "title": "Handover of the watch",
        "text": "",
        "chime": False,
        "points": [
            PromptPoint("who-is-here", "Who is here, who sleeps, and where", "Ana", 120.0),
            PromptPoint("sound", "Sound heard at each voice"),
            PromptPoint("co-lamp", "The carbon monoxide alarm's lamp is on"),
            PromptPoint("drink", "Water to drink stands ready"),
            PromptPoint("burns-kit", "The burns kit is in its place"),
            PromptPoint("put-off", "What is put off, and until when"),
        ],
        "answers": [],
    }
    return sign_of_life(**(told | other))


def help_card() -> Help:
    """Tell an invented kiln's card for calling help."""
    people = [("Ines", "+351 000 000 001"), ("Rui", "+351 000 000 002")]
    return Help("112", "Rua do Forno 3, Vale Claro", "Behind the chapel, second gate on the left.", people)


def falling(**other: Any) -> Snapshot:
    """Tell the moment of three alarms: the fire falls, one wire is open, the chamber is uneven."""
    values = [
        value("firebox", 1051.0, -64.0),
        value("front", 1030.4, -22.0),
        value("middle", 1009.0, -14.0),
        value("back", None, None, status="open", quality="F"),
    ]
    return quiet(**({"values": values, "alarms": [spread(), broken_sensor(), fall()]} | other))


def crowd(count: int) -> Snapshot:
    """Tell a calm moment with this many sensors, several at a place."""
    places = ["firebox", "front", "middle", "back", "flue", "timber"]
    sensors = [Sensor(f"t{n}", places[n % 6], "K", f"shed-1/t{n}") for n in range(count)]
    values = [value(sensor.id, 1240.0 - 20 * n) for n, sensor in enumerate(sensors)]
    return msgspec.structs.replace(quiet(), sensors=sensors, values=values, guide="t2" if count > 2 else "t0")
