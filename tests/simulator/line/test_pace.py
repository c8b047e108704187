"""A stream that falls behind says so."""

from simulator.line.pace import Pace


def test_on_time_nothing_is_said() -> None:
    """Tenths of a second are nobody's concern."""
    pace = Pace()

    assert [pace.note(late, now) for now, late in enumerate((0.0, 0.3, 0.9))] == [None, None, None]
    assert pace.worst_s == 0.9


def test_lateness_is_said_with_its_size_and_not_too_often() -> None:
    """At once, then every ten seconds while it lasts, and when it is made good."""
    pace = Pace()
    told = [(now, words) for now in range(25) if (words := pace.note(1.5 + now, float(now)))]

    assert [now for now, _ in told] == [0, 10, 20]
    assert told[1][1].startswith("the stream is 11.5 s late")
    assert pace.note(0.2, 25.0) == "the stream is on time again"
    assert pace.note(0.2, 26.0) is None
    assert pace.worst_s == 25.5
