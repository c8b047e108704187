"""Reduction by an oxygen probe: what must be told and what must not.

Excess-air ratios become emf by the Nernst equation and the equilibrium of wood gas (`monitor.oxygen`, checked against
tables of its own).
"""

import numpy as np
import pytest

from monitor.engine.engine import Engine
from monitor.engine.reduction import demand_over_air, judge_reduction, new_reduction, probe_speaks, take_demand
from monitor.engine.setup import EngineSetup, setup_from_sites
from monitor.model import Finding, FindingKind, FloatArray, Slots, Status
from monitor.oxygen.nernst import oxygen_share_from_emf
from monitor.oxygen.wood_gas import excess_air_from_oxygen
from monitor.site_file import parse_site

START = 1_764_000_000.0
SITE = """
[kiln]
name = "Test kiln"
[[sensor]]
id = "middle"
input = "shed-1/t1"
type = "K"
place = "middle"
[[sensor]]
id = "gas"
input = "shed-1/o1"
type = "zirconia"
place = "flue"
"""


@pytest.fixture
def setup() -> EngineSetup:
    """One thermocouple, one oxygen probe."""
    return setup_from_sites([parse_site(SITE, "kiln.toml")])


def _emf_of(ratio: FloatArray, celsius: float) -> FloatArray:
    """The cell's emf in volts for excess-air ratios, found by bisection of the way back."""
    low, high = np.full(ratio.shape, -0.01), np.full(ratio.shape, 1.2)
    hot = np.full(ratio.shape, celsius)
    for _ in range(60):
        middle = 0.5 * (low + high)
        lean = excess_air_from_oxygen(oxygen_share_from_emf(middle, hot), hot) > ratio
        low, high = np.where(lean, middle, low), np.where(lean, high, middle)
    return 0.5 * (low + high)


def _slots(ratio: FloatArray, celsius: float = 1000.0, heard: FloatArray | None = None) -> Slots:
    """Slots of a middle at 900 degC and rising, and a probe in gas of `ratio` (n,)."""
    n = len(ratio)
    emf = np.stack([np.full(n, 0.037) + 1e-6 * (np.arange(n) % 3), _emf_of(ratio, celsius)], axis=1)[:, None, :]
    mean = np.stack([900.0 + np.arange(n) / 18.0, np.full(n, celsius)], axis=1)[:, None, :]
    there = np.ones((n, 1, 2), bool)
    if heard is not None:
        there[:, 0, 1] = heard
    end = START + 5.0 * np.arange(1, n + 1)
    status = np.where(there, Status.OK, Status.ABSENT).astype(np.uint8)
    low, high = (np.where(there, emf + by, np.nan) for by in (-1e-6, 1e-6))
    return Slots(
        end,
        end[:, None],
        np.where(there, mean, np.nan),
        np.where(there, 5, 0),
        status,
        low,
        high,
        low,
        np.zeros(there.shape, bool),
    )


def _judge(setup: EngineSetup, slots: Slots) -> list[tuple[float, str, float]]:
    told: list[Finding] = [f for _, f in Engine(setup).judge(slots)]
    return [
        ((f.time - START) / 60.0, f.state.value, (f.onset - START) / 60.0)
        for f in told
        if f.kind is FindingKind.REDUCTION
    ]


def test_the_ratio_at_the_probe_is_what_was_put_in(setup: EngineSetup) -> None:
    """Through emf and back, both sides of stoichiometry; thermocouples have none."""
    ratio = np.array([0.8, 0.95, 1.05, 1.5, 3.0])
    demand = demand_over_air(setup, _slots(ratio))

    np.testing.assert_allclose(1.0 / demand[:, 0, 1], ratio, rtol=1e-3)
    assert np.isnan(demand[:, 0, 0]).all()


def test_a_cold_cell_says_nothing(setup: EngineSetup) -> None:
    """Zirconia conducts too badly below 600 degC (common practice, no source)."""
    assert np.isnan(demand_over_air(setup, _slots(np.full(5, 0.9), celsius=590.0))).all()
    assert np.isfinite(demand_over_air(setup, _slots(np.full(5, 0.9), celsius=610.0))[:, 0, 1]).all()


def test_a_kiln_without_a_probe_has_no_ratio() -> None:
    """Nothing is computed."""
    site = parse_site(SITE.partition('[[sensor]]\nid = "gas"')[0], "kiln.toml")
    slots = _slots(np.full(5, 0.9))
    alone = Slots(*(getattr(slots, c)[..., :1] if getattr(slots, c).ndim == 3 else getattr(slots, c)
                    for c in Slots.__dataclass_fields__))  # fmt: skip

    assert np.isnan(demand_over_air(setup_from_sites([site]), alone)).all()


def test_reduction_begins_and_ends_with_the_air(setup: EngineSetup) -> None:
    """An hour at 0.85 between hours at 1.3: told within 15 min of either, its times right within 3 min."""
    ratio = np.concatenate([np.full(720, 1.3), np.full(720, 0.85), np.full(720, 1.3)])
    (begin, end) = _judge(setup, _slots(ratio))

    assert (begin[1], end[1]) == ("begin", "end")
    assert 60.0 < begin[0] < 75.0
    assert 120.0 < end[0] < 135.0
    assert begin[2] == pytest.approx(60.0, abs=3.0)
    assert end[2] == pytest.approx(120.0, abs=3.0)


def test_stokes_alone_are_no_reduction(setup: EngineSetup) -> None:
    """Every 6 min a stoke takes all air for a minute; demand over air is 0.8 on the mean."""
    demand = np.where(np.arange(3 * 720) % 72 < 12, 1.6, 0.64)

    assert _judge(setup, _slots(1.0 / demand)) == []


def test_a_reducing_rhythm_is_one_span(setup: EngineSetup) -> None:
    """Each stoke deep in reduction, air to spare before the next, 1.1 on the mean: one span without a break."""
    demand = np.where(np.arange(3 * 720) % 72 < 24, 1.9, 0.7)
    told = _judge(setup, _slots(1.0 / demand))

    assert [state for _, state, _ in told] == ["begin"]


def test_a_short_lack_of_air_is_no_reduction(setup: EngineSetup) -> None:
    """Four minutes at 0.9 in an hour."""
    ratio = np.full(720, 1.3)
    ratio[300:348] = 0.9

    assert _judge(setup, _slots(ratio)) == []


def test_a_silent_probe_holds_what_was_told(setup: EngineSetup) -> None:
    """It begins, the probe falls silent for an hour, and comes back with air to spare: only then does it end."""
    ratio = np.concatenate([np.full(720, 0.85), np.full(720, 0.85), np.full(720, 1.3)])
    heard = np.ones(len(ratio), bool)
    heard[720:1440] = False
    told = _judge(setup, _slots(ratio, heard=heard))

    assert [state for _, state, _ in told] == ["begin", "end"]
    assert told[1][0] > 120.0


def test_a_ratio_that_wavers_for_minutes_is_one_span(setup: EngineSetup) -> None:
    """An hour at 0.97 with a quarter at 1.005 in it, which lifts the mean above 1 for four minutes: one pair."""
    wavering = np.concatenate([np.full(360, 0.97), np.full(180, 1.005), np.full(360, 0.97)])
    told = _judge(setup, _slots(np.concatenate([np.full(720, 1.3), wavering, np.full(720, 1.3)])))

    assert [state for _, state, _ in told] == ["begin", "end"]


@pytest.mark.parametrize(("ratio", "speaks"), [(0.9, True), (1.5, True), (np.nan, False)])
def test_a_probe_speaks_for_a_while_and_as_long_as_it_told(setup: EngineSetup, ratio: float, *, speaks: bool) -> None:
    """Beats of a probe that measures, or not; then an hour of none: what it told stands, else it has fallen silent."""
    reduction = new_reduction(setup.shape)
    closed = np.array([False])
    for beat in range(1_000_000, 1_000_080):
        take_demand(reduction, np.array([[np.nan, 1.0 / ratio]]))
        judge_reduction(reduction, beat, closed)

    assert probe_speaks(reduction).tolist() == [speaks]
    for beat in range(1_000_080, 1_000_200):
        judge_reduction(reduction, beat, closed)
    assert probe_speaks(reduction).tolist() == [ratio < 1.0]
