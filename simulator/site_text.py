"""The site file of a simulated kiln, so that a service can be started for it."""

from datetime import UTC, datetime

import msgspec

from simulator.line.broker_address import BrokerAddress
from simulator.probe.probe_chain import said_letters
from simulator.script.spells import Spell
from simulator.spec.kiln_file import KilnSpec


def site_text(kiln: KilnSpec, way: str | BrokerAddress, lit: int, spells: tuple[Spell, ...] = ()) -> str:
    """Return `kiln.toml` for `kiln`, read at a serial device or from a broker and lit at epoch second `lit`.

    A broker's password is left out. Where `spells` have a sensor's letter wrong, the file has it wrong as well.
    """
    lines = [
        "[kiln]",
        f"name = {_quoted(kiln.name)}",
        f"time_zone = {_quoted(kiln.time_zone)}",
        "",
        *_way_lines(way),
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
    for contact in kiln.contacts:
        lines += [
            "",
            "[[contact]]",
            f"input = {_quoted(f'{kiln.node}/{contact.input}')}",
            f"door = {_quoted(contact.door)}",
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


def _way_lines(way: str | BrokerAddress) -> list[str]:
    if isinstance(way, str):
        return ["[[source]]", 'kind = "serial"', f"device = {_quoted(way)}"]
    lines = ["[[source]]", 'kind = "mqtt"', "", "[broker]", f"host = {_quoted(way.host)}", f"port = {way.port}"]
    if way.user is not None:
        lines += [f"user = {_quoted(way.user)}", '# password_file = "..."']
    if way.ca_file is not None:
        lines.append(f"ca_file = {_quoted(way.ca_file)}")
    return lines


def _quoted(text: str) -> str:
    """Return `text` as a TOML basic string; JSON's escapes are among TOML's."""
    return msgspec.json.encode(text).decode()
