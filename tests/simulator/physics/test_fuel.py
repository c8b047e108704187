"""Wood against handbook values, and its sums."""

import csv
from itertools import pairwise
from pathlib import Path

import pytest

from simulator.physics.fuel import (
    CHAR_AIR_KG_KG,
    CHAR_J_KG,
    CHAR_SHARE,
    EVAPORATION_J_KG,
    PYROLYSIS_J_KG,
    WOOD_AIR_KG_KG,
    WOOD_J_KG,
    FuelGas,
    fresh_charge,
    heat_charge,
    heating_value_j_kg,
    volatiles_of,
)

GOLDEN = Path(__file__).parents[2] / "golden" / "heat.csv"
"""Handbook values, each with its source."""


def _golden(quantity: str) -> list[tuple[str, float]]:
    with GOLDEN.open(encoding="utf-8", newline="") as lines:
        return [(row["case"], float(row["value"])) for row in csv.DictReader(lines) if row["quantity"] == quantity]


def test_heating_value_falls_with_moisture_as_the_handbook_says() -> None:
    """EN ISO 18125 form, q = q_dry (1 - 0.01 M) - 0.02443 M, printed to 0.01 MJ/kg: heat.csv, eight moistures."""
    rows = _golden("wood_net_calorific_value_MJ_per_kg")

    assert len(rows) == 8
    for case, mj_kg in rows:
        share = float(case.split()[1]) / 100.0
        charge = fresh_charge(1.0, moisture=share, thickness_m=0.04)

        assert heating_value_j_kg(share) / 1e6 == pytest.approx(mj_kg, abs=0.006)
        assert charge.wood_kg * WOOD_J_KG - charge.water_kg * EVAPORATION_J_KG == pytest.approx(
            heating_value_j_kg(share)
        )


def test_air_demand_is_the_handbook_s() -> None:
    """Kubler, Wood and Fiber Science: 6 g of air per g of oven-dry wood; heat.csv, computed: 5.91 kg, 4.57 Nm3."""
    ((_, kg_kg),) = _golden("wood_air_demand_kg_per_kg_dry")
    ((_, nm3_kg),) = _golden("wood_air_demand_Nm3_per_kg_dry")

    assert volatiles_of(1.0).air_kg + CHAR_SHARE * CHAR_AIR_KG_KG == pytest.approx(kg_kg)
    assert pytest.approx(6.0, abs=0.1) == WOOD_AIR_KG_KG
    assert pytest.approx(nm3_kg, abs=0.005) == WOOD_AIR_KG_KG * 22.414 / 28.965


def test_air_demand_and_flue_gas_follow_from_what_wood_is_made_of() -> None:
    """C50 H6 O44: O2 for each C, a quarter for each H, less half of O; air of 20.95 % O2. heat.csv: CO2 max 20.51 %."""
    carbon, hydrogen, oxygen = 500.0 / 12.011, 60.0 / 1.008, 440.0 / 15.999
    oxygen_mol = carbon + hydrogen / 4.0 - oxygen / 2.0
    ((_, co2_max_percent),) = _golden("wood_CO2_max_dry_percent")

    assert oxygen_mol / 0.2095 * 28.965e-3 == pytest.approx(WOOD_AIR_KG_KG, abs=0.01)
    assert 100.0 * carbon / (carbon + oxygen_mol * 0.7905 / 0.2095) == pytest.approx(co2_max_percent, abs=0.02)


def test_volatiles_and_char_together_give_the_heat_of_wood() -> None:
    """What heating the wood took comes back with its volatiles, no more and no less."""
    heat_j = volatiles_of(1.0).heat_j - PYROLYSIS_J_KG + CHAR_SHARE * CHAR_J_KG

    assert heat_j == pytest.approx(WOOD_J_KG)
    assert volatiles_of(1.0).mass_kg + CHAR_SHARE == pytest.approx(1.0)


def test_charge_dries_before_it_gives_off_gas() -> None:
    """In the first seconds heat goes into water; the burst comes later; in the end nothing is left."""
    charge = fresh_charge(3.0, moisture=0.2, thickness_m=0.04)
    given = [heat_charge(charge, 100e3, 5.0) for _ in range(1500)]

    assert given[0][0] * EVAPORATION_J_KG > 9.0 * given[0][1] * PYROLYSIS_J_KG
    assert max(range(1500), key=lambda n: given[n][1]) > 5
    assert sum(water for water, _ in given) == pytest.approx(0.6)
    assert sum(wood for _, wood in given) == pytest.approx(2.4)
    assert charge.is_spent


def test_dry_charge_gives_no_water_and_what_the_heat_lets_go() -> None:
    """Wood given off is the heat on its bare surface over its heat of pyrolysis, in a moment before char shields it."""
    charge = fresh_charge(2.0, moisture=0.0, thickness_m=0.05)
    water_kg, wood_kg = heat_charge(charge, 50e3, 0.01)

    assert water_kg == 0.0
    assert wood_kg == pytest.approx(50e3 * 0.01 * charge.exposed_m2 / PYROLYSIS_J_KG, rel=1e-3)


def test_thin_wood_burns_sooner() -> None:
    """Half the thickness has twice the surface, seen before char shields it."""
    thick, thin = (fresh_charge(2.0, moisture=0.0, thickness_m=m) for m in (0.08, 0.04))

    assert heat_charge(thin, 5e4, 0.01)[1] == pytest.approx(2.0 * heat_charge(thick, 5e4, 0.01)[1], rel=1e-3)


def test_charge_flares_and_burns_on_under_its_char() -> None:
    """Of a dry charge the first tenth goes in less time than any later tenth."""
    charge = fresh_charge(2.0, moisture=0.0, thickness_m=0.05)
    left = [1.0]
    while not charge.is_spent:
        heat_charge(charge, 1e5, 1.0)
        left.append(charge.wood_kg / 2.0)
    marks = [next(n for n, share in enumerate(left) if share <= 1.0 - tenth / 10.0) for tenth in range(11)]
    times = [b - a for a, b in pairwise(marks)]

    assert times[0] < min(times[1:])


def test_long_step_gives_what_short_ones_give() -> None:
    """A step of 30 s is heated in parts: the same charge is left."""
    once, often = (fresh_charge(3.0, moisture=0.15, thickness_m=0.04) for _ in range(2))
    heat_charge(once, 2e5, 30.0)
    for _ in range(6):
        heat_charge(often, 2e5, 5.0)

    assert once.wood_kg == pytest.approx(often.wood_kg)
    assert once.water_kg == pytest.approx(often.water_kg)


def test_parcels_of_gas_add_up() -> None:
    """Heat, air and mass each."""
    assert FuelGas(1.0, 2.0, 3.0).plus(FuelGas(10.0, 20.0, 30.0)) == FuelGas(11.0, 22.0, 33.0)
