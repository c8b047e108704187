"""The table of prompts: TOML text to checked prompts, all errors at once.

The text itself is data (`prompts.toml` beside this file); reading it is left to the caller:
`importlib.resources.files(PROMPTS_PACKAGE) / PROMPTS_FILE`.
"""

from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, model_validator

from monitor.strict_toml import StrictPart, check_part, read_toml

PROMPTS_PACKAGE = "monitor.alarms"
PROMPTS_FILE = "prompts.toml"

_Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,38}$")]
_Text = Annotated[str, Field(min_length=1, max_length=200)]


class Moment(StrEnum):
    """When a prompt is due."""

    SIGN_OF_LIFE = "sign-of-life"  # nobody showed that they are there for as long as is allowed
    FALLING_UNSTOKED = "falling-unstoked"  # the guide falls fast and nobody stokes
    STOKE_DUE = "stoke-due"  # the agreed interval is over
    COLD = "cold"  # not closed up, and the kiln still dries or is cold
    WATCH_CHANGE = "watch-change"  # the watch changed by the rota
    FIRED = "fired"
    REDUCTION = "reduction"  # reduction is wanted here, or told by a finding
    HOT = "hot"
    NEAR_THE_END = "near-the-end"  # of the plan
    COOLING = "cooling"  # closed up, still hot
    COOL = "cool"  # closed up, and cool enough to open


class PromptSettings(StrictPart):
    """Set points of the moments; units in the names."""

    hot_c: float
    open_below_c: float
    closing_near_c: Annotated[float, Field(ge=0)]
    falling_c: Annotated[float, Field(gt=0)]
    falling_s: Annotated[float, Field(gt=0)]


class Item(StrictPart):
    """A point to be ticked, or an answer."""

    id: _Id
    text: _Text


class PromptRow(StrictPart):
    """One prompt: a reminder with points, a question with answers, or a word alone."""

    id: _Id
    title: Annotated[str, Field(min_length=1, max_length=60)]
    text: Annotated[str, Field(max_length=300)]
    when: Moment
    again_s: Annotated[float, Field(ge=0)]
    chime: bool
    points: tuple[Item, ...] = ()
    answers: tuple[Item, ...] = ()

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if self.points and self.answers:
            raise ValueError("give points to tick or answers, not both")
        ids = [item.id for item in (*self.points, *self.answers)]
        if len(set(ids)) != len(ids):
            raise ValueError("the ids of points or answers must differ")
        return self


class PromptTable(StrictPart):
    """A whole, checked table of prompts, the most pressing first."""

    settings: PromptSettings
    prompt: tuple[PromptRow, ...]

    @model_validator(mode="after")
    def _ids_differ(self) -> Self:
        ids = [row.id for row in self.prompt]
        if len(set(ids)) != len(ids):
            raise ValueError("the ids of prompts must differ")
        return self


def parse_prompts(text: str, file: str) -> PromptTable:
    """Return the prompts that `text` (TOML, read from `file`) describes.

    Raises:
        ProblemsError: with every problem found, each naming `file`, the key and what is allowed.
    """
    hints = {"id": "use lower-case letters, digits and '-', beginning with a letter"}
    return check_part(PromptTable, read_toml(text, file), file, hints=hints, across=[])
