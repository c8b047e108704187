"""The site file from disk: what cannot be read is told like any other mistake in it."""

from pathlib import Path

import pytest

from monitor.problems import ProblemsError
from monitor.site_reader import read_site

SITE = '[kiln]\nname = "Quiet Hill"\n[[sensor]]\nid = "middle"\ninput = "shed-1/t1"\ntype = "K"\nplace = "middle"\n'


def test_site_is_read_from_its_file(tmp_path: Path) -> None:
    """Bytes on disk become a checked site."""
    path = tmp_path / "kiln.toml"
    path.write_text(SITE, encoding="utf-8")

    assert read_site(path).kiln.name == "Quiet Hill"


def test_missing_file_says_how_to_make_one(tmp_path: Path) -> None:
    """The first thing a newcomer meets."""
    with pytest.raises(ProblemsError) as caught:
        read_site(tmp_path / "kiln.toml")

    assert "kiln.toml: cannot be read: No such file" in caught.value.problems[0]
    assert "nightstoke new-site" in caught.value.problems[0]


def test_file_of_other_bytes_is_named(tmp_path: Path) -> None:
    """A photograph is no site file."""
    path = tmp_path / "kiln.toml"
    path.write_bytes(b"\xff\xd8\xff")

    with pytest.raises(ProblemsError, match=r"kiln\.toml: cannot be read: not UTF-8 text"):
        read_site(path)


def test_mistakes_name_the_file_as_it_was_given(tmp_path: Path) -> None:
    """Every line begins with the path a person typed."""
    path = tmp_path / "kiln.toml"
    path.write_text(SITE.replace('"K"', '"Q"'), encoding="utf-8")

    with pytest.raises(ProblemsError) as caught:
        read_site(path)

    assert caught.value.problems[0].startswith(f"{path}: sensor[1].type")
