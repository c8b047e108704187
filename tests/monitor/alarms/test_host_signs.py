"""The host's word of itself, and what it cannot know."""

from monitor.alarms.host_signs import host_signs
from monitor.alarms.records import Host
from monitor.alarms.table import Condition
from tests.monitor.alarms.kiln import sight


def test_what_the_host_cannot_know_is_not_watched() -> None:
    """A host without a heat probe, a panel that tells no battery."""
    conditions = {s.condition for s in host_signs(sight(host=Host()))}

    assert conditions == {Condition.STORE, Condition.STUCK, Condition.VOICE, Condition.CLOCK, Condition.PLAN_LATE}


def test_the_words_are_the_hosts_own() -> None:
    """What went wrong is told as it was said."""
    said = {
        s.condition: s.text for s in host_signs(sight(store_error="the disk is full", host=Host(engine_error="X: y")))
    }

    assert said[Condition.STORE] == "Scans cannot be stored: the disk is full"
    assert said[Condition.STUCK] == "Readings are stored without being judged: X: y"


def test_whether_anybody_must_hear_is_unknown_while_the_kiln_is() -> None:
    """No probe has a value, nobody listens: that holds what was."""
    signs = {s.condition: s.present for s in host_signs(sight(celsius={}, host=Host(panels_with_sound=0)))}

    assert signs[Condition.LISTENING] is None


def test_lateness_is_held_while_the_guide_is_blind() -> None:
    """With a plan and without a temperature it cannot be known; without a plan nobody is late."""
    blind = {s.condition: s.present for s in host_signs(sight(behind_plan_s=None))}
    free = {s.condition: s.present for s in host_signs(sight(behind_plan_s=None, planned_c_per_h=None))}

    assert (blind[Condition.PLAN_LATE], free[Condition.PLAN_LATE]) == (None, False)
