"""The site file: what is read, what is refused, and that every refusal names file, key and what is allowed."""

import pytest

from monitor.plan import Plan
from monitor.problems import ProblemsError
from monitor.site_file import ContactPart, Place, parse_site

SMALL = """
[kiln]
name = "Quiet Hill kiln"
[[sensor]]
id = "middle"
input = "shed-1/t1"
type = "K"
place = "middle"
"""

FULL = """
[kiln]
name = "Quiet Hill kiln"
id = "quiet-hill"
time_zone = "Europe/Lisbon"
[[source]]
kind = "serial"
device = "/dev/serial/by-id/board"
[[source]]
kind = "mqtt"
[[sensor]]
id = "firebox"
input = "shed-1/t1"
type = "S"
place = "firebox"
correction = [[0.0, 0.0], [1000.0, -3.0]]
[[sensor]]
id = "back"
input = "shed-1/t2"
place = "back"
[[sensor]]
id = "front"
input = "shed-1/t3"
type = "K"
place = "front"
[[sensor]]
id = "probe"
input = "shed-1/t4"
type = "zirconia"
place = "middle"
[plan]
lit = "2026-11-20T06:00:00+00:00"
points = [[0, 20], [48, 300], [96, 1280]]
[broker]
host = "broker.test"
"""


def problems(text: str) -> list[str]:
    """Return what is wrong with `text`."""
    with pytest.raises(ProblemsError) as caught:
        parse_site(text, "kiln.toml")
    return caught.value.problems


def test_one_probe_without_plan_is_enough() -> None:
    """The smallest site has a name and one sensor."""
    site = parse_site(SMALL, "kiln.toml")

    assert site.kiln.id == "quiet-hill-kiln"
    assert site.kiln.time_zone == "UTC"
    assert site.guide == "middle"
    assert site.agreed_plan is None
    assert site.sensor_index() == {"shed-1/t1": 0}


def test_full_site_keeps_what_was_written() -> None:
    """Sources, corrections, plan and broker arrive as written; the plan's start is epoch seconds."""
    site = parse_site(FULL, "kiln.toml")

    assert site.kiln.id == "quiet-hill"
    assert [s.kind for s in site.source] == ["serial", "mqtt"]
    assert site.sensor[0].correction == ((0.0, 0.0), (1000.0, -3.0))
    assert site.sensor[1].type is None
    assert site.sensor[1].place is Place.BACK
    assert site.agreed_plan == Plan(points=((0, 20), (48, 300), (96, 1280)), lit=1_795_154_400.0)
    assert site.broker is not None
    assert site.broker.port == 1883


def test_guide_is_front_where_no_thermocouple_stands_in_the_middle() -> None:
    """An oxygen probe guides nothing; after the middle comes the front."""
    assert parse_site(FULL, "kiln.toml").guide == "front"


def test_named_guide_wins() -> None:
    """What the plan names is the guide."""
    text = FULL.replace("[plan]", '[plan]\nguide = "back"')

    assert parse_site(text, "kiln.toml").guide == "back"


def test_site_without_a_place_to_judge_has_no_guide() -> None:
    """A flue alone guides nothing."""
    assert parse_site(SMALL.replace('place = "middle"', 'place = "flue"'), "kiln.toml").guide is None


CONTACT = '[[contact]]\ninput = "shed-1/d1"\ndoor = "front"\nopen = false\n[plan]'


def test_a_contact_says_which_door_and_what_open_is() -> None:
    """A switch at the stoke door that is closed while the door is; its node is one of the site's."""
    text = FULL.replace("[plan]", CONTACT.replace("shed-1", "doors"))
    site = parse_site(text, "kiln.toml")

    assert site.contact == (ContactPart(input="doors/d1", door="front", open=False),)
    assert site.nodes == (*parse_site(FULL, "kiln.toml").nodes, "doors")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('name = "Quiet Hill kiln"', "", ["kiln.name: missing"]),
        ('id = "quiet-hill"', 'id = "Quiet Hill"', ["kiln.id:", "lower-case"]),
        ("time_zone", "zone", ["kiln.zone: unknown key", "time_zone"]),
        ('"Europe/Lisbon"', '"Lisbon"', ["kiln.time_zone", "IANA name"]),
        ('device = "/dev/serial/by-id/board"', "", ["source[1]", "device"]),
        ('kind = "mqtt"', 'kind = "mqtt"\ndevice = "x"', ["source[2]", "no other source has one"]),
        ('kind = "mqtt"', 'kind = "carrier-pigeon"', ["source[2].kind", "'serial', 'mqtt', 'modbus' or 'spi'"]),
        ('id = "back"', 'id = "time"', ["sensor[2].id", "choose another id"]),
        ('id = "back"', 'id = "Back 2"', ["sensor[2].id", "lower-case"]),
        ('id = "back"', 'id = "firebox"', ["sensor[2].id", "used by sensor[1] too"]),
        ('"shed-1/t2"', '"shed-1/t1"', ["sensor[2].input", "each input feeds one sensor"]),
        ("[plan]", CONTACT.replace("d1", "t1"), ["contact[1].input", "used by sensor[1] too"]),
        ("[plan]", CONTACT.replace("front", "attic"), ["contact[1].door", "'front' or 'side'"]),
        ("[plan]", CONTACT.replace("open = false", "open = 1"), ["contact[1].open"]),
        ("[plan]", CONTACT.replace("shed-1/d1", "d1"), ["contact[1].input", "'shed-1/t1'"]),
        ('"shed-1/t2"', '"t2"', ["sensor[2].input", "'shed-1/t1'"]),
        ('"shed-1/t2"', '"host/t2"', ["sensor[2].input", "reserved"]),
        ('type = "S"', 'type = "Q"', ["sensor[1].type", "'K'", "'zirconia'", "found 'Q'"]),
        ('place = "back"', 'place = "attic"', ["sensor[2].place", "'firebox'", "'timber'"]),
        ("[1000.0, -3.0]", "[0.0, -3.0]", ["sensor[1].correction", "must rise"]),
        ("[48, 300]", "[0, 300]", ["plan.points", "must rise"]),
        ("[[0, 20], [48, 300], [96, 1280]]", "[[0, 20]]", ["plan.points", "at least 2"]),
        ("+00:00", "", ["plan.lit", "offset from UTC"]),
        ("[plan]", '[plan]\nguide = "attic"', ["plan.guide", "firebox, back, front, probe"]),
        ('[broker]\nhost = "broker.test"', "", ["source: an mqtt source needs a [broker]"]),
        ("[broker]", "[kettle]\nx = 1\n[broker]", ["kettle: unknown key", "broker"]),
        ("[kiln]", "[kiln", ["not readable as TOML", "line 2"]),
        ("1000.0, -3.0", "nan, -3.0", ["sensor[1].correction", "finite"]),
    ],
)
def test_each_mistake_names_file_key_and_what_is_allowed(old: str, new: str, words: list[str]) -> None:
    """One mistake, one line that says where it is and what to write."""
    assert old in FULL

    (line,) = problems(FULL.replace(old, new))

    assert line.startswith("kiln.toml: ")
    assert all(word in line for word in words), line


def test_all_mistakes_are_told_at_once() -> None:
    """A person mends the file once, not once per mistake."""
    text = FULL.replace('type = "S"', 'type = "Q"').replace('place = "back"', 'place = "attic"')
    text = text.replace('"shed-1/t2"', '"shed-1/t1"').replace("time_zone", "zone")

    assert len(problems(text)) == 4


def test_site_without_sensors_is_refused() -> None:
    """Nothing to watch is a mistake; sensors that are no tables are named."""
    assert problems('[kiln]\nname = "x"') == ["kiln.toml: sensor: missing; add it"]
    assert any("sensor[1]" in line for line in problems('sensor = [1]\nsource = 2\n[kiln]\nname = "x"'))


def test_name_of_odd_letters_alone_still_gives_an_id() -> None:
    """Topics need an id, whatever the kiln is called."""
    assert parse_site(SMALL.replace("Quiet Hill kiln", "窯"), "kiln.toml").kiln.id == "kiln"
