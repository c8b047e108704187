"""Which side port is next."""

from dataclasses import replace

from simulator.crew.side_rounds import SideRound
from simulator.spec.crew_spec import SideSpec

CHAMBER = ["front", "middle", "back"]
SIDE = SideSpec(
    from_c=1050.0,
    every_min=6.0,
    ports=("front", "middle", "back"),
    pieces=(2, 3),
    piece_kg=0.3,
    wood_mm=20.0,
    open_s=8.0,
)


def _ports(side: SideSpec, ware_c: list[float], turns: int, *, favours: bool) -> list[str]:
    going = SideRound()
    return [going.next_port(side, CHAMBER, ware_c, favours=favours) for _ in range(turns)]


def test_ports_are_fed_in_the_leads_order() -> None:
    """Round and round, from the front or from the back."""
    from_back = replace(SIDE, ports=("back", "middle"))

    assert _ports(SIDE, [1200.0] * 3, 4, favours=True) == ["front", "middle", "back", "front"]
    assert _ports(from_back, [1200.0] * 3, 3, favours=True) == ["back", "middle", "back"]


def test_lagging_back_is_fed_by_the_port_ahead_of_it_every_second_turn() -> None:
    """Common practice, no source: heat goes from a port toward the flue."""
    assert _ports(SIDE, [1220.0, 1210.0, 1150.0], 5, favours=True) == ["middle", "front", "middle", "middle", "middle"]


def test_lagging_front_is_fed_itself() -> None:
    """No port is ahead of it."""
    assert _ports(SIDE, [1150.0, 1210.0, 1220.0], 2, favours=True) == ["front", "front"]


def test_zone_out_of_reach_is_not_favoured() -> None:
    """Neither it nor the one ahead has a port in the order."""
    assert _ports(replace(SIDE, ports=("front",)), [1220.0, 1210.0, 1150.0], 2, favours=True) == ["front", "front"]


def test_watch_that_does_not_look_keeps_to_the_order() -> None:
    """Whatever lags."""
    assert _ports(SIDE, [1220.0, 1210.0, 1150.0], 3, favours=False) == ["front", "middle", "back"]


def test_two_or_three_thin_pieces_a_port() -> None:
    """Two and a half pieces of 0.3 kg every six minutes are 7.5 kg/h."""
    assert SIDE.mean_kg_h == 7.5
