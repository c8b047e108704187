"""Deeds, and who can do them."""

import numpy as np

from simulator.crew.crew import Watch
from simulator.crew.deeds import STOKES, Crew, DeedKind
from simulator.spec.kiln_file import load_kiln


def test_scripted_watch_is_a_crew() -> None:
    """It has deeds and tends; the type checker sees to the rest."""
    crew: Crew = Watch(load_kiln("demo"), (), np.random.default_rng(1))

    assert crew.deeds == []


def test_both_ways_to_charge_wood_are_stokes() -> None:
    """Raking and settings are none."""
    assert [kind.value for kind in DeedKind if kind in STOKES] == ["front-stoke", "side-stoke"]
