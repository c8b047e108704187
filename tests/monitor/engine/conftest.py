"""What the tests of the engine share: sites, and slots made from made-up temperatures."""

from collections.abc import Callable, Sequence
from dataclasses import fields

import numpy as np
import pytest

from monitor.engine.engine import Engine
from monitor.engine.setup import EngineSetup, setup_from_sites
from monitor.model import SLOT_S, FloatArray, Slots, Status
from monitor.site_file import Site, parse_site

START = 1_764_000_000.0
"""Epoch seconds, a multiple of the beat."""

VOLTS_PER_C, NOISE_VOLTS = 40.0e-6, 1.0e-6
"""About type K with its cold junction at 0 degC, and a converter; an emf without noise would be a frozen one."""


@pytest.fixture
def start() -> float:
    """Epoch seconds at which made-up records begin."""
    return START


@pytest.fixture
def make_site() -> Callable[..., Site]:
    """Build a site with one K sensor per place, named after its place (and a number when repeated)."""

    def make(places: Sequence[str] = ("middle",), plan: str = "") -> Site:
        text = '[kiln]\nname = "Test kiln"\n'
        for number, place in enumerate(places):
            name = place if places.index(place) == number else f"{place}-{number}"
            text += f'[[sensor]]\nid = "{name}"\ninput = "shed-1/t{number}"\ntype = "K"\nplace = "{place}"\n'
        return parse_site(text + plan, "kiln.toml")

    return make


@pytest.fixture
def make_setup(make_site: Callable[..., Site]) -> Callable[..., EngineSetup]:
    """Build the setup of one kiln."""

    def make(places: Sequence[str] = ("middle",), plan: str = "") -> EngineSetup:
        return setup_from_sites([make_site(places, plan)])

    return make


@pytest.fixture
def make_engine(make_setup: Callable[..., EngineSetup]) -> Callable[..., Engine]:
    """Build an engine of one kiln."""

    def make(places: Sequence[str] = ("middle",), plan: str = "") -> Engine:
        return Engine(make_setup(places, plan))

    return make


@pytest.fixture
def make_slots() -> Callable[..., Slots]:
    """Build slots from temperatures (n, S) and optional statuses (n, S); a NaN with status OK becomes ABSENT."""

    def make(celsius: FloatArray, status: FloatArray | None = None, begin: float = START) -> Slots:
        celsius = np.atleast_2d(np.asarray(celsius, dtype=np.float64).T).T
        code = np.zeros(celsius.shape, np.uint8) if status is None else np.asarray(status, dtype=np.uint8).copy()
        code[np.isnan(celsius) & (code == Status.OK)] = Status.ABSENT
        mean = np.where(code == Status.OK, celsius, np.nan)[:, None, :]
        end = begin + SLOT_S * np.arange(1, len(celsius) + 1)
        emf = mean * VOLTS_PER_C
        count = np.where(np.isnan(mean), 0, 5)
        return Slots(
            end, end[:, None] + 0.5, mean, count, code[:, None, :], emf - NOISE_VOLTS, emf + NOISE_VOLTS, 0.0 * emf,
            np.zeros(mean.shape, bool),
        )  # fmt: skip

    return make


@pytest.fixture
def cut_slots() -> Callable[[Slots, int, int], Slots]:
    """Cut a run of slots."""

    def cut(slots: Slots, begin: int, end: int) -> Slots:
        part = slice(begin, end)
        return Slots(*(getattr(slots, column.name)[part] for column in fields(Slots)))

    return cut
