"""What is told to people, from disk: the shipped tables, or the alarm table that a site brings."""

from importlib.resources import files
from pathlib import Path

from monitor.alarms.prompt_table import PROMPTS_FILE, PROMPTS_PACKAGE, parse_prompts
from monitor.alarms.table import TABLE_FILE, TABLE_PACKAGE, parse_table
from monitor.problems import ProblemsError
from monitor.site_file import Site
from monitor.watch import Tables


def read_tables(site: Site, folder: Path) -> Tables:
    """Return the tables of `site`, whose file lies in `folder`.

    Raises:
        ProblemsError: the site's own alarm table cannot be read, or anything in it is wrong.
    """
    prompts = parse_prompts((files(PROMPTS_PACKAGE) / PROMPTS_FILE).read_text(encoding="utf-8"), PROMPTS_FILE)
    own = site.alarms.table
    if own is None:
        return Tables(parse_table(shipped_alarms(), TABLE_FILE), prompts)
    path = folder / own
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        remedy = "write one with 'nightstoke alarm-table > alarms.toml' and change that"
        raise ProblemsError([f"{path}: alarms.table cannot be read: {reason}; {remedy}"]) from error
    return Tables(parse_table(text, str(path)), prompts)


def shipped_alarms() -> str:
    """Return the text of the alarm table that comes with the program."""
    return (files(TABLE_PACKAGE) / TABLE_FILE).read_text(encoding="utf-8")
