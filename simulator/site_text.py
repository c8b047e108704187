"""The site file of a simulated kiln, so that a service can be started for it."""

from datetime import UTC, datetime

import msgspec

from simulator.kiln_file import KilnSpec
from simulator.probe_chain import said_letters
from simulator.spells import Spell


def site_text(kiln: KilnSpec, device: str, lit: int, spells: tuple[Spell, ...] = ()) -> str:
    """Return `kiln.toml` for `kiln`, read at the serial `device` and lit at epoch second `lit`.

    Where `spells` have a sensor's letter wrong, the file has it wrong as well.
    """
    lines = [
        "[kiln]",
        f"name = {_quoted(kiln.name)}",
        f"time_zone = {_quoted(kiln.time_zone)}",
        "",
        "[[source]]",
        'kind = "serial"',
        f"device = {_quoted(device)}",
    ]
    for sensor, letter in zip(kiln.sensors, said_letters(kiln, spells), strict=True):
        lines += [
            "",
            "[[sensor]]",
            f"id = {_quoted(sensor.id)}",
            f"input = {_quoted(f'{kiln.node}/{sensor.input}')}",
            f"type = {_quoted(letter)}",
            f"place = {_quoted(kiln.place_of(sensor))}",
        ]
    points = ", ".join(f"[{hour:g}, {celsius:g}]" for hour, celsius in kiln.points)
    lines += [
        "",
        "[plan]",
        f"lit = {_quoted(datetime.fromtimestamp(lit, UTC).isoformat())}",
        f"points = [{points}]",
        f"guide = {_quoted(kiln.guide)}",
        "",
    ]
    return "\n".join(lines)


def _quoted(text: str) -> str:
    """Return `text` as a TOML basic string; JSON's escapes are among TOML's."""
    return msgspec.json.encode(text).decode()
