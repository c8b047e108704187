"""Kilns as TOML."""

from dataclasses import replace
from importlib.resources import files

import pytest

from simulator.spec.kiln_file import KilnFileError, kiln_names, load_kiln, parse_kiln


def _demo_text() -> str:
    return (files("simulator") / "kilns" / "demo.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", kiln_names())
def test_every_kiln_that_comes_with_the_simulator_reads(name: str) -> None:
    """Zones run from firebox to flue, every sensor stands in one, and every stage begins after the one before."""
    spec = load_kiln(name)

    places = [z.place for z in spec.zones]
    assert places[0] == "firebox"
    assert places[-2:] == ["flue", "chimney"]
    assert {s.zone for s in spec.sensors} <= {z.name for z in spec.zones}
    begins = [s.begin_h for s in spec.stages]
    assert begins == sorted(begins)
    assert spec.points[0][0] == 0.0
    assert spec.guide_zone in {z.name for z in spec.zones}


def test_plan_takes_about_two_days_of_small_fire_and_two_of_climb() -> None:
    """Common practice, no source: two days to 300 degC, then to 2300 to 2400 degF (1260 to 1316 degC)."""
    points = dict(load_kiln("demo").points)

    assert points[48.0] == 300.0
    assert 1260.0 <= max(points.values()) <= 1316.0
    assert 84.0 <= max(points) <= 100.0


def test_stage_is_found_by_hour_and_by_name() -> None:
    """A stage lasts until the next begins; before lighting it is the first."""
    spec = load_kiln("demo")

    assert spec.stage_at(-1.0).name == "preheat"
    assert spec.stage_at(47.99).name == "preheat"
    assert spec.stage_at(48.0).name == "climb"
    assert spec.stage_at(500.0).name == "cooling"
    assert spec.stage("high-fire").name == "high-fire"


def test_unknown_names_are_answered_with_those_there_are() -> None:
    """A wrong kiln or stage says what to choose from."""
    with pytest.raises(KilnFileError, match=r"no kiln 'barn'; choose one of .*demo"):
        load_kiln("barn")
    with pytest.raises(KilnFileError, match="no stage 'glaze'; choose one of preheat, climb"):
        load_kiln("demo").stage("glaze")


@pytest.mark.parametrize(
    ("find", "put", "words"),
    [
        ("chimney_m = 4.5", "", "air: Object missing required field `chimney_m`"),
        ("chimney_m = 4.5", "chimney_m = -1", "air.chimney_m: Expected `float` > 0.0"),
        ("chimney_m = 4.5", "chimney_m = 4.5\nchimney_yards = 5", "air.chimney_yards: unknown; allowed are bed_d"),
        ("[kiln]", "[kiln", "no TOML: "),
        ("[kiln]", "[shed]", "shed: there is no such table; allowed are kiln, air"),
        ("[kiln]", "[shed]", "kiln: is missing"),
        ('place = "front"', 'place = "attic"', "zone[1].place: Invalid enum value 'attic'"),
        ('place = "front"', 'place = "flue"', "zone: order them firebox, 3 or more"),
        ('wall = "chimney"', 'wall = "straw"', "zone[5].wall: there is no wall 'straw'; allowed are firebox, ch"),
        ('zone = "middle"', 'zone = "attic"', "port[1].zone: there is no zone 'attic'; allowed are firebox, fr"),
        ('zone = "middle"', 'zone = "attic"', "sensor[2].zone: there is no zone 'attic'; allowed are firebox"),
        ('zone = "middle"', 'zone = "attic"', "cones[1]: "),
        ('name = "middle"', 'name = "front"', "zone: each needs a name of its own"),
        ('guide = "middle"', 'guide = "roof"', "plan.guide: there is no sensor 'roof'; allowed are firebox,"),
        ("[[0, 15], [24", "[[0, 15], [0", "plan.points: hours must grow from point to point"),
        ("mixing = 0.7", "mixing = 1.7", "zone[1].mixing: Expected `float` <= 1.0"),
    ],
)  # fmt: skip
def test_mistake_in_a_kiln_file_is_told_with_file_key_and_what_is_allowed(find: str, put: str, words: str) -> None:
    """Each mistake on a line of its own."""
    assert find in _demo_text()
    with pytest.raises(KilnFileError) as caught:
        parse_kiln(_demo_text().replace(find, put), "shed.toml")

    assert any(line.startswith(f"shed.toml: {words}") for line in str(caught.value).splitlines()), str(caught.value)


def test_all_mistakes_are_told_at_once() -> None:
    """A person mends a file in one go."""
    text = _demo_text().replace("chimney_m = 4.5", "chimney_m = 0").replace("mixing = 0.8", 'mixing = "much"')
    with pytest.raises(KilnFileError) as caught:
        parse_kiln(text, "shed.toml")

    assert len(str(caught.value).splitlines()) == 2


def test_ports_and_walls_are_those_of_their_zones() -> None:
    """One of each a zone, in order; a zone without a port has none."""
    spec = load_kiln("demo")

    assert len(spec.walls) == len(spec.port_m2) == len(spec.zones)
    assert [area > 0.0 for area in spec.port_m2] == [z.place in {"front", "middle", "back"} for z in spec.zones]
    assert len(spec.walls[-1].capacity_j_m2k) < len(spec.walls[0].capacity_j_m2k)


def test_sensor_in_the_chimney_counts_to_the_flue() -> None:
    """A site file knows no chimney."""
    spec = load_kiln("demo")
    sensor = replace(spec.sensors[0], zone="chimney")

    assert spec.place_of(sensor) == "flue"
    assert spec.place_of(spec.sensors[0]) == "firebox"
