"""Whether the moment of a prompt is there, from what is seen now and how the guide went of late."""

from collections.abc import Mapping

from monitor.alarms.circumstance import Phase
from monitor.alarms.crew_signs import agreed_interval_s, least_quiet_s, quiet_s
from monitor.alarms.prompt_table import Moment, PromptSettings
from monitor.alarms.sign import Sight


def moments_of(sight: Sight, settings: PromptSettings, highest_c: float | None) -> Mapping[Moment, bool | None]:
    """Return of each moment whether it is there now, None where that cannot be known.

    `highest_c` is the guide's highest temperature of the last `falling_s`, None where that is not known.
    """
    seen = sight.seen
    hottest = max((seen.celsius[s.id] for s in sight.chamber if s.id in seen.celsius), default=None)
    is_cold = None if hottest is None else hottest < sight.settings.drying_until_c
    return {
        Moment.SIGN_OF_LIFE: _is_quiet(sight),
        Moment.FALLING_UNSTOKED: _falls_unstoked(sight, settings, highest_c),
        Moment.STOKE_DUE: _is_stoke_due(sight),
        Moment.COLD: False if seen.is_closed_up else is_cold,
        Moment.WATCH_CHANGE: _fired_and(sight, is_there=seen.watch_changed is not None),
        Moment.FIRED: sight.is_fired,
        Moment.REDUCTION: _fired_and(sight, is_there=seen.reduces or Phase.REDUCTION in sight.phases),
        Moment.HOT: None if hottest is None else hottest >= settings.hot_c,
        Moment.NEAR_THE_END: _fired_and(sight, is_there=_is_near_the_end(sight, settings)),
        Moment.COOLING: seen.is_closed_up and (hottest is None or hottest > settings.open_below_c),
        Moment.COOL: seen.is_closed_up and hottest is not None and hottest <= settings.open_below_c,
    }


def _fired_and(sight: Sight, *, is_there: bool) -> bool | None:
    return sight.is_fired if is_there else False


def _is_quiet(sight: Sight) -> bool | None:
    quiet = quiet_s(sight)
    if not sight.agreed.sign_of_life or quiet is None or sight.is_fired is False:
        return False
    return quiet >= least_quiet_s(sight.settings, sight.seen.local_hour)


def _falls_unstoked(sight: Sight, settings: PromptSettings, highest_c: float | None) -> bool | None:
    celsius = sight.seen.celsius.get(sight.seen.guide or "")
    if sight.is_fired is False:
        return False
    if celsius is None or highest_c is None:
        return None
    stoked = sight.seen.last_stoke
    unstoked = stoked is None or sight.now - stoked >= settings.falling_s
    return unstoked and highest_c - celsius > settings.falling_c


def _is_stoke_due(sight: Sight) -> bool | None:
    interval_s, stoked = agreed_interval_s(sight), sight.seen.last_stoke
    if interval_s is None or stoked is None:
        return False
    return _fired_and(sight, is_there=sight.now - stoked >= interval_s)


def _is_near_the_end(sight: Sight, settings: PromptSettings) -> bool:
    celsius, top = sight.seen.celsius.get(sight.seen.guide or ""), sight.seen.plan_top_c
    return celsius is not None and top is not None and celsius >= top - settings.closing_near_c
