"""Signs of ware that warms or cools too fast: while it dries, round the inversions of its silica, and in cooling."""

from collections.abc import Iterator

from monitor.alarms.circumstance import Circumstance, Phase
from monitor.alarms.sign import Sight, Sign, WasOpen, is_over
from monitor.alarms.table import Condition


def rate_signs(sight: Sight, was: WasOpen) -> Iterator[Sign]:
    """Yield one sign of each kind for each sensor of the chamber."""
    for sensor in sight.chamber:
        celsius = sight.seen.celsius.get(sensor.id)
        climb = sight.seen.climb_c_per_h.get(sensor.id)
        yield _drying(sight, sensor.id, climb, was)
        yield _inversion(sight, sensor.id, celsius, climb, was=was(Condition.INVERSION, sensor.id))
        yield _cooling(sight, sensor.id, celsius, climb, was=was(Condition.COOLING_RATE, sensor.id))


def _drying(sight: Sight, sensor: str, climb: float | None, was: WasOpen) -> Sign:
    settings = sight.settings
    limit = settings.drying_raw_c_per_h if sight.agreed.is_raw else settings.drying_bisque_c_per_h
    over = is_over(climb, limit, settings.rate_deadband_c_per_h, was=was(Condition.DRYING_CLIMB, sensor))
    present = over if Phase.DRYING in sight.phases else False
    text = f"{sensor} climbs faster than ware may that still dries."
    return Sign(Condition.DRYING_CLIMB, sensor, present, text, sensor)


def _inversion(sight: Sight, sensor: str, celsius: float | None, climb: float | None, *, was: bool) -> Sign:
    settings = sight.settings
    low, high = settings.inversion_c
    rate = None if climb is None else abs(climb)
    over = is_over(rate, settings.inversion_c_per_h, settings.rate_deadband_c_per_h, was=was)
    present = None if celsius is None else over if low <= celsius <= high else False
    falls = climb is not None and climb < 0.0
    text = f"{sensor} {'falls' if falls else 'climbs'} fast where quartz changes its size."
    circumstances = frozenset({Circumstance.COMING_DOWN} if falls else ())
    return Sign(Condition.INVERSION, sensor, present, text, sensor, circumstances)


def _cooling(sight: Sight, sensor: str, celsius: float | None, climb: float | None, *, was: bool) -> Sign:
    settings = sight.settings
    if Phase.COOLING not in sight.phases:
        return Sign(Condition.COOLING_RATE, sensor, present=False)
    if celsius is None or climb is None:
        return Sign(Condition.COOLING_RATE, sensor, present=None)
    low, high = settings.cristobalite_c
    is_cristobalite = low <= celsius <= high
    limit = settings.cristobalite_c_per_h if is_cristobalite else settings.cooling_c_per_h
    over = is_over(-climb, limit, settings.rate_deadband_c_per_h, was=was)
    present = over if celsius < settings.cooling_below_c else False
    text = f"{sensor} cools faster than ware may{' where cristobalite changes its size' if is_cristobalite else ''}."
    return Sign(Condition.COOLING_RATE, sensor, present, text, sensor)
