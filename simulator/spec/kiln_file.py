"""Kilns to practise on, as TOML: what one is built of, its sensors, its plan and how its crew fires it."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from itertools import pairwise
from typing import Annotated, Any

from msgspec import Meta

from simulator.physics.cones import ConePack, pack_of
from simulator.physics.wall import WallGrid, cut_wall
from simulator.spec.crew_spec import CrewSpec, StageSpec
from simulator.spec.kiln_parts import AirSpec, PortSpec, Positive, WallSpec, ZoneSpec
from simulator.spec.sensor_spec import ContactSpec, SensorSpec, sensor_misfits
from simulator.spec.strict_parts import read_table, read_tables


class KilnFileError(Exception):
    """A kiln that is not there or cannot be read; says which, where and what there is."""


@dataclass(frozen=True, slots=True, eq=False)
class KilnSpec:
    """A whole kiln with its plan; `points` are (hours from lighting, degC) at sensor `guide`.

    `chamber_m3` is the volume between firebox and flue. `walls` and `port_m2`, the side port's free area, are of each
    zone in turn.
    """

    name: str
    node: str
    time_zone: str
    chamber_m3: float
    shed_c: float
    shed_swing_c: float
    air: AirSpec
    walls: tuple[WallGrid, ...]
    zones: tuple[ZoneSpec, ...]
    port_m2: tuple[float, ...]
    sensors: tuple[SensorSpec, ...]
    cones: tuple[ConePack, ...]
    stages: tuple[StageSpec, ...]
    crew: CrewSpec
    points: tuple[tuple[float, float], ...]
    guide: str
    contacts: tuple[ContactSpec, ...] = ()

    @property
    def guide_zone(self) -> str:
        """Name of the zone that the guiding sensor stands in."""
        return next(s.zone for s in self.sensors if s.id == self.guide)

    def zone_index(self, name: str) -> int:
        """Return the position of the zone called `name`."""
        return [z.name for z in self.zones].index(name)

    def place_of(self, sensor: SensorSpec) -> str:
        """Return the place of `sensor` as the site file has it; a chimney belongs to its flue."""
        place = self.zones[self.zone_index(sensor.zone)].place
        return "flue" if place == "chimney" else place

    def stage(self, name: str) -> StageSpec:
        """Return the stage called `name`."""
        for stage in self.stages:
            if stage.name == name:
                return stage
        known = ", ".join(s.name for s in self.stages)
        raise KilnFileError(f"{self.name}: no stage '{name}'; choose one of {known}")

    def stage_at(self, hour: float) -> StageSpec:
        """Return the stage that the plan is in `hour` hours after lighting."""
        for stage in reversed(self.stages):
            if stage.begin_h <= hour:
                return stage
        return self.stages[0]


def kiln_names() -> list[str]:
    """Return the names of the kilns that come with the simulator."""
    folder = files("simulator") / "kilns"
    return sorted(f.name.removesuffix(".toml") for f in folder.iterdir() if f.name.endswith(".toml"))


def load_kiln(name: str) -> KilnSpec:
    """Return the kiln called `name`."""
    if name not in kiln_names():
        raise KilnFileError(f"no kiln '{name}'; choose one of {', '.join(kiln_names())}")
    text = (files("simulator") / "kilns" / f"{name}.toml").read_text(encoding="utf-8")
    return parse_kiln(text, f"{name}.toml")


def parse_kiln(text: str, file: str) -> KilnSpec:
    """Return the kiln that `text`, read from `file`, describes.

    Raises:
        KilnFileError: with a line for each mistake, naming file, key and what is allowed.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise KilnFileError(f"{file}: no TOML: {error}") from error
    problems = [f"{key}: there is no such table; allowed are {', '.join(TABLES)}" for key in raw if key not in TABLES]
    problems += [f"{key}: is missing" for key in NEEDED if key not in raw]
    spec = None if problems else _kiln_of(raw, problems)
    if problems or spec is None:
        raise KilnFileError("\n".join(f"{file}: {problem}" for problem in problems))
    return spec


NEEDED = ("kiln", "air", "wall", "zone", "sensor", "plan", "crew", "stage")
TABLES = (*NEEDED, "port", "contact", "cones")


@dataclass(frozen=True, slots=True)
class _Head:
    name: str
    node: str
    time_zone: str
    chamber_m3: Positive
    shed_c: float
    shed_swing_c: float


@dataclass(frozen=True, slots=True)
class _Plan:
    guide: str
    points: Annotated[tuple[tuple[float, float], ...], Meta(min_length=2)]


def _kiln_of(raw: dict[str, Any], problems: list[str]) -> KilnSpec | None:
    """Return the kiln of `raw`, None where `problems` were found."""
    head = read_table(_Head, raw["kiln"], "kiln", problems)
    air = read_table(AirSpec, raw["air"], "air", problems)
    plan = read_table(_Plan, raw["plan"], "plan", problems)
    crew = read_table(CrewSpec, _with_watches(raw["crew"]), "crew", problems)
    walls = read_tables(WallSpec, raw["wall"], "wall", problems)
    zones = read_tables(ZoneSpec, raw["zone"], "zone", problems)
    ports = read_tables(PortSpec, raw.get("port", []), "port", problems)
    sensors = read_tables(SensorSpec, raw["sensor"], "sensor", problems)
    contacts = read_tables(ContactSpec, raw.get("contact", []), "contact", problems)
    stages = read_tables(StageSpec, raw["stage"], "stage", problems)
    if problems or head is None or air is None or plan is None or crew is None:
        return None
    problems += _misfits(zones, walls, ports, sensors, plan)
    problems += sensor_misfits(sensors, contacts, [z.name for z in zones])
    cones = _packs_of(raw.get("cones", []), [z.name for z in zones], problems)
    if problems:
        return None
    grids = {wall.name: cut_wall(wall.layer, wall.outside_w_m2k) for wall in walls}
    return KilnSpec(
        name=head.name,
        node=head.node,
        time_zone=head.time_zone,
        chamber_m3=head.chamber_m3,
        shed_c=head.shed_c,
        shed_swing_c=head.shed_swing_c,
        air=air,
        walls=tuple(grids[zone.wall] for zone in zones),
        zones=zones,
        port_m2=tuple(sum(p.area_m2 for p in ports if p.zone == zone.name) for zone in zones),
        sensors=sensors,
        cones=cones,
        stages=stages,
        crew=crew,
        points=plan.points,
        guide=plan.guide,
        contacts=contacts,
    )


def _with_watches(crew: dict[str, Any]) -> dict[str, Any]:
    """Return the `[crew]` table with its `[[crew.watch]]` tables under the record's name for them."""
    return {"watches" if key == "watch" else key: each for key, each in crew.items()}


def _packs_of(raw: list[dict[str, Any]], zones: Sequence[str], problems: list[str]) -> tuple[ConePack, ...]:
    packs = []
    for number, pack in enumerate(raw):
        try:
            packs.append(pack_of(pack, zones))
        except (KeyError, ValueError) as error:
            problems.append(f"cones[{number}]: {error}")
    return tuple(packs)


CHAMBER_ZONES = 3
"""Fewest zones between firebox and flue."""


def _misfits(
    zones: Sequence[ZoneSpec],
    walls: Sequence[WallSpec],
    ports: Sequence[PortSpec],
    sensors: Sequence[SensorSpec],
    plan: _Plan,
) -> list[str]:
    """Return a line for each part that does not fit the others."""
    names = [zone.name for zone in zones]
    places = [zone.place for zone in zones]
    chamber = {"front", "middle", "back"}
    is_in_order = places[:1] + places[-2:] == ["firebox", "flue", "chimney"] and chamber >= set(places[1:-2])
    asked = [(f"port[{n}]", port.zone) for n, port in enumerate(ports)]
    asked += [(f"sensor[{n}]", sensor.zone) for n, sensor in enumerate(sensors)]
    found = [
        f"{where}.zone: there is no zone '{zone}'; allowed are {', '.join(names)}"
        for where, zone in asked
        if zone not in names
    ]
    build_ups = [wall.name for wall in walls]
    found += [
        f"zone[{n}].wall: there is no wall '{zone.wall}'; allowed are {', '.join(build_ups)}"
        for n, zone in enumerate(zones)
        if zone.wall not in build_ups
    ]
    if len(set(names)) < len(names):
        found.append("zone: each needs a name of its own")
    if not is_in_order or len(places) < CHAMBER_ZONES + 3:
        found.append(
            f"zone: order them firebox, {CHAMBER_ZONES} or more of front, middle and back, flue, chimney; "
            f"they are {', '.join(places)}"
        )
    if plan.guide not in {sensor.id for sensor in sensors}:
        found.append(f"plan.guide: there is no sensor '{plan.guide}'; allowed are {', '.join(s.id for s in sensors)}")
    if any(after[0] <= before[0] for before, after in pairwise(plan.points)):
        found.append("plan.points: hours must grow from point to point")
    return found
