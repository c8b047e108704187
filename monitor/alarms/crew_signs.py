"""Signs of the people at the kiln: a stoke that does not come, nobody who shows up, a late handover."""

from collections.abc import Iterator

import numpy as np

from monitor.alarms.circumstance import Circumstance
from monitor.alarms.sign import Sight, Sign
from monitor.alarms.table import Condition, Settings

FIREBOX = "firebox"


def crew_signs(sight: Sight) -> Iterator[Sign]:
    """Yield what is known of the crew; nothing of what was not agreed."""
    interval_s = agreed_interval_s(sight)
    if interval_s is not None:
        yield _overdue(sight, interval_s)
    if sight.agreed.sign_of_life:
        yield _sign_of_life(sight)
    due_s = sight.seen.handover_due_s
    yield Sign(Condition.HANDOVER, None, due_s is not None, "A handover is due and nobody went through it.")


def agreed_interval_s(sight: Sight) -> float | None:
    """Return the agreed seconds between stokes at the guide's temperature, None where there are none."""
    celsius = sight.seen.celsius.get(sight.seen.guide or "")
    points = sight.agreed.interval_s
    if not points or celsius is None or celsius < points[0][0]:
        return None
    at, seconds = zip(*points, strict=True)
    return float(np.interp(celsius, at, seconds))


def quiet_s(sight: Sight) -> float | None:
    """Return for how many host seconds nobody showed a sign of life, None before the first."""
    last = sight.seen.last_sign
    return None if last is None else (sight.now - last) / sight.seen.speed


def least_quiet_s(settings: Settings, local_hour: float | None) -> float:
    """Return how long nobody needs to show a sign of life at this time of day."""
    begin, end = settings.night_h
    is_night = local_hour is not None and begin <= local_hour < end
    return settings.sign_of_life_night_s if is_night else settings.sign_of_life_s


def _overdue(sight: Sight, interval_s: float) -> Sign:
    settings, seen = sight.settings, sight.seen
    if sight.is_fired is False or seen.last_stoke is None:
        return Sign(Condition.STOKE_OVERDUE, None, present=False)
    eyes = [s.id for s in sight.sensors if s.place == FIREBOX]
    since_s = sight.now - seen.last_stoke
    late = since_s > max(settings.overdue_times * interval_s, settings.overdue_least_s)
    blind = sight.is_fired is None or (late and bool(eyes) and not any(s in seen.celsius for s in eyes))
    quiet = quiet_s(sight)
    alone = quiet is not None and quiet >= settings.alone_s
    text = f"No stoke was seen or logged; every {interval_s / 60.0:.0f} min was agreed."
    return Sign(
        Condition.STOKE_OVERDUE, None, None if blind else late, text, None,
        frozenset({Circumstance.ALONE} if alone else ()),
    )  # fmt: skip


def _sign_of_life(sight: Sight) -> Sign:
    quiet = quiet_s(sight)
    if sight.is_fired is False or quiet is None:
        return Sign(Condition.SIGN_OF_LIFE, None, present=False)
    least_s = least_quiet_s(sight.settings, sight.seen.local_hour)
    is_quiet = quiet >= least_s
    text = f"Nobody has touched a screen, a button or a door for {least_s / 60.0:.0f} min."
    return Sign(Condition.SIGN_OF_LIFE, None, None if is_quiet and sight.is_fired is None else is_quiet, text)
