"""Kilns to practise on, as TOML: what one is built of, its sensors, its plan and how its crew fires it."""

import tomllib
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from simulator.cones import ConePack, pack_of
from simulator.crew_spec import CrewSpec, StageSpec, crew_of, stage_of
from simulator.kiln_parts import AirSpec, ZoneSpec
from simulator.pairs import number_pairs
from simulator.sensor_spec import SensorSpec
from simulator.wall import Layer, WallGrid, cut_wall


class KilnFileError(Exception):
    """A kiln that is not there or cannot be read; says which, where and what there is."""


@dataclass(frozen=True, slots=True, eq=False)
class KilnSpec:
    """A whole kiln with its plan; `points` are (hours from lighting, degC) at sensor `guide`."""

    name: str
    node: str
    time_zone: str
    shed_c: float
    shed_swing_c: float
    air: AirSpec
    wall: WallGrid
    zones: tuple[ZoneSpec, ...]
    sensors: tuple[SensorSpec, ...]
    cones: tuple[ConePack, ...]
    stages: tuple[StageSpec, ...]
    crew: CrewSpec
    points: tuple[tuple[float, float], ...]
    guide: str

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
        return next((s for s in reversed(self.stages) if s.begin_h <= hour), self.stages[0])


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
    """Return the kiln that `text`, read from `file`, describes."""
    try:
        return _kiln_of(tomllib.loads(text))
    except (KeyError, TypeError, ValueError, tomllib.TOMLDecodeError) as error:
        raise KilnFileError(f"{file}: {type(error).__name__}: {error}; compare it with demo.toml") from error


def _kiln_of(raw: dict[str, Any]) -> KilnSpec:
    kiln, crew, plan = raw["kiln"], raw["crew"], raw["plan"]
    layers = [Layer(**layer) for layer in raw["wall"]["layer"]]
    return KilnSpec(
        name=kiln["name"],
        node=kiln["node"],
        time_zone=kiln["time_zone"],
        shed_c=float(kiln["shed_c"]),
        shed_swing_c=float(kiln["shed_swing_c"]),
        air=AirSpec(**raw["air"]),
        wall=cut_wall(layers, raw["wall"]["outside_w_m2k"]),
        zones=tuple(ZoneSpec(**zone) for zone in raw["zone"]),
        sensors=tuple(SensorSpec(**sensor) for sensor in raw["sensor"]),
        cones=tuple(pack_of(pack, [zone["name"] for zone in raw["zone"]]) for pack in raw.get("cones", [])),
        stages=tuple(stage_of(stage) for stage in raw["stage"]),
        crew=crew_of(crew),
        points=number_pairs(plan["points"]),
        guide=plan["guide"],
    )
