"""The site file of a simulated kiln, read by the service's own reader."""

from monitor.site_file import parse_site
from simulator.kiln_file import load_kiln
from simulator.site_text import site_text


def test_site_reads_without_a_problem_and_says_what_the_kiln_has() -> None:
    """Sensors, inputs, places, plan and lighting are those of the kiln."""
    spec = load_kiln("demo")
    site = parse_site(site_text(spec, '/tmp/odd "name"\\x', 1_764_000_000), "kiln.toml")

    assert site.kiln.name == spec.name
    assert site.source[0].device == '/tmp/odd "name"\\x'
    assert [(s.id, s.type, s.place) for s in site.sensor] == [(s.id, s.type, spec.place_of(s)) for s in spec.sensors]
    assert {s.input for s in site.sensor} == {f"shed-1/t{n}" for n in range(1, 7)}
    assert site.guide == spec.guide
    assert site.agreed_plan is not None
    assert site.agreed_plan.points == spec.points
    assert site.agreed_plan.lit == 1_764_000_000.0
