"""Sounders as the service knows them."""

from monitor.publish.voices import LOST_S, MOST_VOICES, Voices


def test_a_sounder_works_while_it_asks() -> None:
    """Then it is lost; what is wrong with one that asks is its own word."""
    voices = Voices()
    assert voices.trouble(0.0) is None
    voices.hear("shed", None, 0.0)
    voices.hear("house", "no card", 25.0)

    assert voices.states(29.0) == {"shed": "working", "house": "no card"}
    assert voices.states(LOST_S)["shed"] == "not heard for 30 s"
    assert voices.trouble(LOST_S) == "house: no card; shed: not heard for 30 s"
    voices.forget()
    assert voices.trouble(1000.0) is None


def test_names_without_end_are_refused_and_counted() -> None:
    """Memory is bounded; those that are known go on."""
    voices = Voices()
    for i in range(MOST_VOICES + 3):
        voices.hear(f"v{i}", None, 0.0)
    voices.hear("v0", "no card", 1.0)

    assert (len(voices.states(1.0)), voices.refused, voices.states(1.0)["v0"]) == (MOST_VOICES, 3, "no card")
