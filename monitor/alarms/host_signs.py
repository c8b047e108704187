"""Signs of the host and of the way to people: who hears, what is stuck, where the record goes, and the plan's clock."""

from collections.abc import Iterator

from monitor.alarms.circumstance import Circumstance
from monitor.alarms.sign import Sight, Sign
from monitor.alarms.table import Condition


def host_signs(sight: Sight) -> Iterator[Sign]:
    """Yield what the host knows of itself; nothing of what it cannot know."""
    host, settings = sight.seen.host, sight.settings
    yield _said(Condition.STORE, sight.seen.store_error, "Scans cannot be stored: ")
    yield _said(Condition.STUCK, host.engine_error, "Readings are stored without being judged: ")
    yield _said(Condition.VOICE, host.voice_error, "A sounder cannot be relied on: ")
    yield _said(Condition.CLOCK, host.clock_error, "")
    if host.panels_with_sound is not None:
        nobody = host.panels_with_sound == 0
        present = nobody and sight.is_fired
        yield Sign(Condition.LISTENING, None, present, "No panel with its sound on is connected.")
    if host.free_bytes is not None:
        short = host.free_bytes < settings.space_short_bytes
        text = f"Less than {settings.space_bytes / 1e6:.0f} MB are free where firings are kept."
        worse = frozenset({Circumstance.SHORT} if short else ())
        yield Sign(Condition.SPACE, None, host.free_bytes < settings.space_bytes, text, None, worse)
    if host.lowest_battery is not None:
        text = f"The battery of a screen is below {settings.battery_least:.0%}."
        yield Sign(Condition.POWER, None, host.lowest_battery < settings.battery_least, text)
    if host.host_c is not None:
        text = "The host's processor is hotter than it should be."
        yield Sign(Condition.HOST_WARM, None, host.host_c > settings.host_most_c, text)
    yield _plan_late(sight)


def _said(condition: Condition, words: str | None, before: str) -> Sign:
    return Sign(condition, None, words is not None, f"{before}{words}")


def _plan_late(sight: Sight) -> Sign:
    behind_s = sight.seen.behind_plan_s
    if behind_s is None:
        return Sign(Condition.PLAN_LATE, None, present=None if sight.seen.planned_c_per_h is not None else False)
    text = f"The guide is where the plan was more than {sight.settings.plan_late_s / 3600.0:.0f} h ago."
    return Sign(Condition.PLAN_LATE, None, behind_s > sight.settings.plan_late_s, text)
