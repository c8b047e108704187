"""The shipped prompts, and what is said of spoilt ones."""

from importlib.resources import files

import pytest

from monitor.alarms.prompt_table import PROMPTS_FILE, PROMPTS_PACKAGE, Moment, parse_prompts
from monitor.problems import ProblemsError
from tests.monitor.alarms.kiln import PROMPTS

TEXT = (files(PROMPTS_PACKAGE) / PROMPTS_FILE).read_text("utf-8")


def test_every_moment_has_a_prompt() -> None:
    """None is watched for nothing."""
    assert {row.when for row in PROMPTS.prompt} == set(Moment)


def test_people_come_first() -> None:
    """What is asked of whoever may be hurt stands before all else (common practice, no source)."""
    assert [row.id for row in PROMPTS.prompt][:2] == ["sign-of-life", "phase"]


@pytest.mark.parametrize(
    ("was", "becomes", "said"),
    [
        ('id = "sign-of-life"', 'id = "Handover"', "prompt[1].id: use lower-case letters"),
        ('id = "sign-of-life"', 'id = "phase"', "the ids of prompts must differ"),
        ('when = "sign-of-life"', 'when = "never"', "prompt[1].when: Input should be 'sign-of-life'"),
        ("again_s = 0.0", "again_s = -1.0", "prompt[1].again_s: Input should be greater than or equal to 0"),
        ('title = "Are you there?"', 'titel = "x"', "prompt[1].titel: unknown key"),
        ('title = "Are you there?"', 'points = [{id = "a", text = "b"}]\ntitle = "x"', "points to tick or answers"),
        ("hot_c = 1000.0", "", "settings.hot_c: missing"),
    ],
)
def test_a_spoilt_prompt_is_told(was: str, becomes: str, said: str) -> None:
    """With file, key and what is allowed."""
    with pytest.raises(ProblemsError) as caught:
        parse_prompts(TEXT.replace(was, becomes, 1), "p.toml")

    assert any(said in line and line.startswith("p.toml: ") for line in caught.value.problems)
