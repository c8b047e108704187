"""Reading the site file from disk."""

from pathlib import Path

from monitor.problems import ProblemsError
from monitor.site_file import Site, parse_site


def read_site(path: Path) -> Site:
    """Return the site of a file.

    Raises:
        ProblemsError: the file cannot be read, or anything in it is wrong.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise ProblemsError([f"{path}: cannot be read: {reason}; write one with 'nightstoke new-site'"]) from error
    return parse_site(text, str(path))
