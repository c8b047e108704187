"""The table of what a good firing shows beside what is expected."""

import pytest

from simulator.show.plausible import MODEL, PRACTICE, TWICE, Row, main, plausibility_table


def test_every_line_of_the_quick_kiln_is_in_range() -> None:
    """Sources as the lines say: common practice without a source, or measured on an independent kiln model."""
    rows = list(plausibility_table(["quick"]))

    assert [row.text() for row in rows if not row.is_in_range] == []
    assert len(rows) >= 25
    assert {row.kiln for row in rows} == {"quick"}
    assert {MODEL, TWICE} <= {row.source for row in rows}
    assert any(row.source.startswith(PRACTICE) for row in rows)


@pytest.mark.parametrize(("value", "verdict"), [(5.0, "ok"), (1.0, "ok"), (0.9, "NOT"), (float("nan"), "NOT")])
def test_line_says_whether_the_value_is_in_range(value: float, verdict: str) -> None:
    """Ends included; what could not be measured is not in range."""
    row = Row("quick", "top", value, 1.0, 9.0, "degF", PRACTICE, spread=(0.5, 9.5))

    assert f" {verdict} " in row.text()
    assert "(0.5 to 9.5)" in row.text()
    assert "1 to 9" in row.text()


def test_command_fails_where_a_line_is_out_of_range(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 1 and the line, 0 where all is well."""
    rows = [Row("a", "top", 2.0, 1.0, 3.0, "", PRACTICE), Row("a", "bed", 9.0, 1.0, 3.0, "", PRACTICE)]
    for told, code in ((rows[:1], 0), (rows, 1)):
        monkeypatch.setattr("simulator.show.plausible.plausibility_table", lambda *_, told=told, **__: iter(told))

        assert main(["a"]) == code
        assert len(capsys.readouterr().out.splitlines()) == len(told)
