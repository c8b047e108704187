"""Kilns as TOML."""

from importlib.resources import files

import pytest

from simulator.kiln_file import KilnFileError, kiln_names, load_kiln, parse_kiln


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
    ("find", "put"), [("chimney_m = 4.5", ""), ("chimney_m = 4.5", "chimney_yards = 5"), ("[kiln]", "[kiln")]
)
def test_broken_kiln_file_is_named(find: str, put: str) -> None:
    """A missing key, an unknown key, and text that is no TOML."""
    with pytest.raises(KilnFileError, match=r"shed\.toml: "):
        parse_kiln(_demo_text().replace(find, put), "shed.toml")
