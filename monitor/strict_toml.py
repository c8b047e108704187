"""TOML that people write, checked so that every mistake is told at once, each with file, key and what is allowed."""

import tomllib
from collections.abc import Mapping
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError

from monitor.problems import ProblemsError


class StrictPart(BaseModel):
    """A table of the file: unknown keys are mistakes, numbers are finite, nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


Part = TypeVar("Part", bound=StrictPart)


def read_toml(text: str, file: str) -> dict[str, Any]:
    """Return the tables of `text`, read from `file`.

    Raises:
        ProblemsError: it is no TOML.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ProblemsError([f"{file}: not readable as TOML: {error}; see https://toml.io for the form"]) from error


def check_part(
    form: type[Part], raw: dict[str, Any], file: str, *, hints: Mapping[str, str], across: list[str]
) -> Part:
    """Return `raw`, read from `file`, as a `form`.

    Args:
        form: what the whole file must be.
        raw: its tables.
        file: its name, for messages.
        hints: by key, what a pattern allows, in words.
        across: what is wrong between tables, found by the caller.

    Raises:
        ProblemsError: with every problem found, those of `across` last.
    """
    try:
        part = form.model_validate(raw)
    except ValidationError as error:
        lines = [_describe(form, file, dict(e), hints) for e in error.errors()]
        raise ProblemsError(lines + across) from error
    if across:
        raise ProblemsError(across)
    return part


def _describe(form: type[StrictPart], file: str, error: dict[str, Any], hints: Mapping[str, str]) -> str:
    place, message, found = error["loc"], str(error["msg"]), error.get("input")
    key = "".join(f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in place).lstrip(".")
    if error["type"] == "extra_forbidden":
        return f"{file}: {key}: unknown key; allowed here: {', '.join(_form_at(form, place[:-1]).model_fields)}"
    if error["type"] == "missing":
        return f"{file}: {key}: missing; add it"
    if error["type"] == "string_pattern_mismatch":
        message = hints.get(str(place[-1]), message)
    plain = message.removeprefix("Value error, ")
    return f"{file}: {key}: {plain}" + (f" (found {found!r})" if isinstance(found, str | int | float) else "")


def _form_at(form: type[BaseModel], place: tuple[int | str, ...]) -> type[BaseModel]:
    """Return the form of the table that lies at `place` within `form`."""
    for part in place:
        if isinstance(part, str) and part in form.model_fields:
            form = _form_in(form.model_fields[part].annotation) or form
    return form


def _form_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := _form_in(part)) is not None), None)
