"""Tables of a kiln file turned into their records, every mistake told with its key and what is allowed there."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar, get_args, get_type_hints

import msgspec

Part = TypeVar("Part")


def read_table(kind: type[Part], raw: object, where: str, problems: list[str]) -> Part | None:
    """Return the table `raw` as a `kind`; a mistake goes to `problems`, led by `where`, and gives None."""
    unknown = unknown_keys(kind, raw, where)
    problems.extend(unknown)
    try:
        return msgspec.convert(raw, type=kind)
    except msgspec.ValidationError as error:
        problems.append(_in_words(str(error), where))
        return None


def read_tables(kind: type[Part], raw: object, where: str, problems: list[str]) -> tuple[Part, ...]:
    """Return the array of tables `raw`, those that can be read, as `kind`."""
    if not isinstance(raw, list):
        problems.append(f"{where}: write it as [[{where}]], one table each")
        return ()
    found = [read_table(kind, table, f"{where}[{number}]", problems) for number, table in enumerate(raw)]
    return tuple(part for part in found if part is not None)


def unknown_keys(kind: object, raw: object, where: str) -> list[str]:
    """Return a line for each key of `raw`, tables within it included, that `kind` does not know."""
    if isinstance(raw, list):
        return [line for number, item in enumerate(raw) for line in unknown_keys(kind, item, f"{where}[{number}]")]
    record = _record_in(kind)
    if record is None or not isinstance(raw, Mapping):
        return []
    known = {field.name for field in fields(record)}
    found = [f"{where}.{key}: unknown; allowed are {', '.join(sorted(known))}" for key in raw if key not in known]
    hints = get_type_hints(record)
    for key in known & set(raw):
        found += unknown_keys(hints[key], raw[key], f"{where}.{key}")
    return found


def _record_in(kind: object) -> Any:
    """Return the dataclass that `kind` is or holds, through tuples, unions and annotations; None if there is none."""
    if isinstance(kind, type) and is_dataclass(kind):
        return kind
    return next((record for inner in get_args(kind) if (record := _record_in(inner)) is not None), None)


def _in_words(message: str, where: str) -> str:
    """Return msgspec's `message` with the full key in front: "Expected `float` > 0.0 - at `$.area_m2`"."""
    what, at, path = message.partition(" - at `$")
    if not at:
        return f"{where}: {what}"
    return f"{where}{path.rstrip('`')}: {what}"
