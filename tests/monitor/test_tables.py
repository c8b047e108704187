"""Tables from disk: the shipped ones, or a site's own."""

from pathlib import Path

import pytest

from monitor.problems import ProblemsError
from monitor.site_file import Site
from monitor.tables import read_tables, shipped_alarms
from tests.made_up import made_up_site


def site() -> Site:
    """Return a site that brings its own alarm table."""
    return made_up_site('[alarms]\ntable = "own.toml"\n')


def test_a_sites_own_table_counts(tmp_path: Path) -> None:
    """It lies beside the site file."""
    (tmp_path / "own.toml").write_text(shipped_alarms().replace("silence_s = 60.0", "silence_s = 30.0"), "utf-8")

    assert read_tables(site(), tmp_path).alarms.settings.silence_s == 30.0
    assert read_tables(made_up_site(), tmp_path).alarms.settings.silence_s == 60.0


def test_a_table_that_is_not_there_is_told_with_what_to_do(tmp_path: Path) -> None:
    """Nothing is started with half a table."""
    with pytest.raises(ProblemsError, match=r"own\.toml: alarms\.table cannot be read: .*alarm-table"):
        read_tables(site(), tmp_path)


def test_a_spoilt_table_is_told_with_its_file(tmp_path: Path) -> None:
    """As any other mistake in a file."""
    (tmp_path / "own.toml").write_text(shipped_alarms().replace("priority = 2", "priority = 7", 1), "utf-8")

    with pytest.raises(ProblemsError, match=r"own\.toml: row\[1\]\.priority"):
        read_tables(site(), tmp_path)
