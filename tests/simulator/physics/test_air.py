"""Draught and openings against a handbook's worked case and the orifice formula by hand."""

import math

import pytest

from simulator.physics.air import air_through, draught_pa, inlet_m2_for


def test_draught_is_that_of_the_worked_case() -> None:
    """Babcock and Wilcox, Steam, formula 24: 100 ft, air 521 R, gas 961 R, 14.7 psi give 0.67 inch, 167.6 Pa."""
    assert draught_pa(30.48, inside_k=533.15, outside_k=288.706) == pytest.approx(167.6, abs=0.05)
    assert draught_pa(30.48, inside_k=533.15, outside_k=288.706) / 249.089 == pytest.approx(0.67, abs=0.005)


def test_cold_chimney_does_not_pull() -> None:
    """Gas as cold as the air outside gives no stack effect."""
    assert draught_pa(4.5, inside_k=288.0, outside_k=288.0) == 0.0


def test_chimney_twice_as_high_pulls_twice_as_hard() -> None:
    """The stack effect is in proportion to height: the root of two times the air goes through."""
    low, high = (
        air_through(0.03, damper_m2=0.03, pull_pa=draught_pa(m, 900.0, 290.0), outside_k=290.0, chimney_k=900.0)
        for m in (4.0, 8.0)
    )

    assert high == pytest.approx(low * math.sqrt(2.0))


def test_two_equal_orifices_in_series_share_the_pull() -> None:
    """By hand: half the pull at each, m = Cd A sqrt(2 rho dp / 2)."""
    flow_kg_s = air_through(0.03, damper_m2=0.03, pull_pa=20.0, outside_k=300.0, chimney_k=300.0)

    density_kg_m3 = 353.0 / 300.0
    assert flow_kg_s == pytest.approx(0.6 * 0.03 * math.sqrt(2.0 * density_kg_m3 * 10.0))


def test_larger_opening_draws_more_air_but_less_through_each_square_metre() -> None:
    """An open door takes from the grate what the damper does not let through."""
    shut, opened = (
        air_through(m2, damper_m2=0.03, pull_pa=20.0, outside_k=290.0, chimney_k=900.0) for m2 in (0.03, 0.08)
    )

    assert opened > shut
    assert opened / 0.08 < shut / 0.03


def test_cold_chimney_still_breathes() -> None:
    """Wind and the fire itself move some air before the chimney is warm."""
    assert air_through(0.03, damper_m2=0.03, pull_pa=-3.0, outside_k=290.0, chimney_k=280.0) > 0.0


def test_inlet_area_gives_the_air_it_was_asked_for() -> None:
    """The crew's inlet setting and the flow through it are inverse to each other."""
    area_m2 = inlet_m2_for(0.05, damper_m2=0.03, pull_pa=25.0, outside_k=290.0, chimney_k=900.0)

    assert air_through(area_m2, damper_m2=0.03, pull_pa=25.0, outside_k=290.0, chimney_k=900.0) == pytest.approx(0.05)


def test_more_air_than_the_damper_passes_needs_no_end_of_inlet() -> None:
    """Where the damper alone holds back more, no inlet is large enough."""
    assert inlet_m2_for(1.0, damper_m2=0.03, pull_pa=25.0, outside_k=290.0, chimney_k=900.0) == math.inf
