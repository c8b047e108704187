"""Signs of heat where it must not be, and of a chamber whose places drift apart."""

from collections.abc import Iterator

from monitor.alarms.phase import OUTSIDE
from monitor.alarms.records import WatchedSensor
from monitor.alarms.sign import Sight, Sign, WasOpen, is_over
from monitor.alarms.table import Condition


def heat_signs(sight: Sight, was: WasOpen) -> Iterator[Sign]:
    """Yield a sign for each sensor that has a limit or stands at timber, and one of the spread where it is agreed."""
    for sensor in sight.sensors:
        if sensor.place in OUTSIDE:
            yield _over(sight, sensor, Condition.TIMBER, sight.settings.timber_c, was)
        if sensor.limit_c is not None:
            yield _over(sight, sensor, Condition.HARD_LIMIT, sensor.limit_c, was)
    if sight.agreed.spread_c is not None:
        yield _spread(sight, sight.agreed.spread_c, was)


def _over(sight: Sight, sensor: WatchedSensor, condition: Condition, limit: float, was: WasOpen) -> Sign:
    celsius = sight.seen.celsius.get(sensor.id)
    present = is_over(celsius, limit, sight.settings.limit_deadband_c, was=was(condition, sensor.id))
    text = f"{sensor.id} is hotter than it may be there."
    return Sign(condition, sensor.id, present, text, sensor.id)


def _spread(sight: Sight, agreed_c: float, was: WasOpen) -> Sign:
    seen = sight.seen
    known = sorted((seen.celsius[s.id], s.id) for s in sight.chamber if s.id in seen.celsius)
    if len(known) < 2:
        return Sign(Condition.SPREAD, None, present=None)
    (coldest_c, coldest), (hottest_c, hottest) = known[0], known[-1]
    apart = hottest_c - coldest_c
    is_open = was(Condition.SPREAD, None)
    over = is_over(apart, agreed_c, sight.settings.limit_deadband_c, was=is_open)
    slow, fast = seen.climb_c_per_h.get(coldest), seen.climb_c_per_h.get(hottest)
    grows = slow is None or fast is None or fast > slow
    text = f"{hottest} is further above {coldest} than was agreed, and the gap grows."
    return Sign(Condition.SPREAD, None, over and (grows or is_open), text)
