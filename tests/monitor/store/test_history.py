"""Charts from heads, blocks and the tail."""

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.model import Arrival, ScanBlock, Temperatures
from monitor.store import history
from monitor.store import statements as sql
from monitor.store.connection import connect_reader, connect_writer, transaction
from monitor.store.grid import choose_grid
from monitor.store.history import Charts
from monitor.store.records import Envelope, SiteConversion
from monitor.store.scan_columns import TailRow, columns_of, scan_block_of
from monitor.store.schema import migrate
from monitor.store.sealing import Sealer

OPEN = frozenset({"f"})


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Return a new database."""
    path = tmp_path / "x.sqlite3"
    connection = connect_writer(path)
    migrate(connection)
    connection.close()
    return path


@pytest.fixture
def rows(make_row: Callable[..., TailRow], begin: float) -> list[TailRow]:
    """Return five hours of two nodes, a scan each nine seconds, with a gap, and some that came an hour late."""
    made = []
    for number in range(2000):
        if 900 <= number < 960:
            continue
        clock = begin + 9.0 * number
        late = number % 40 == 13
        time = clock - (3700.0 if late else 0.1)
        node = "shed-2" if number % 4 == 0 else "shed-1"
        made.append(make_row(number, node=node, clock=clock, time=time, late=late))
    return made


@pytest.fixture
def connections(file: Path) -> Iterator[tuple[sqlite3.Connection, sqlite3.Connection]]:
    """Return a writing and a reading connection."""
    pair = connect_writer(file), connect_reader(file)
    yield pair
    for connection in pair:
        connection.close()


def fill(connection: sqlite3.Connection, rows: list[TailRow]) -> None:
    """Put rows into the tail."""
    with transaction(connection):
        connection.executemany(
            sql.ADD_SCAN,
            [(r.row, "f", r.node, r.boot, r.seq, r.time, r.clock, int(r.late), r.cells) for r in rows],
        )


def seal(connection: sqlite3.Connection, conversion: SiteConversion | None) -> int:
    """Seal all that is due; return how many blocks."""
    sealer, count = Sealer(connection), 0
    while (due := sealer.due(OPEN)) is not None:
        sealer.seal(connection, *due, conversion)
        count += 1
    return count


def expected(rows: list[TailRow], conversion: SiteConversion, span: tuple[float, float, int]) -> Envelope:
    """Work the envelope out scan by scan."""
    grid = choose_grid(*span)
    low = np.full((len(conversion.inputs), grid.count), np.nan, np.float32)
    high = low.copy()
    for node in dict.fromkeys(row.node for row in rows):
        found = conversion.convert(scan_block_of(columns_of([r for r in rows if r.node == node]), conversion.inputs))
        column = np.floor(found.time / grid.step_s).astype(int) - grid.first
        inside = (column >= 0) & (column < grid.count)
        for sensor, celsius in enumerate(found.celsius.astype(np.float32).T):
            np.fmin.at(low[sensor], column[inside], celsius[inside])
            np.fmax.at(high[sensor], column[inside], celsius[inside])
    if grid.is_of_buckets:
        low, high = np.floor(low * 16) / 16, np.ceil(high * 16) / 16
    return Envelope(grid.begin, grid.step_s, low, high)


def assert_same(found: Envelope, wanted: Envelope) -> None:
    """Compare grids and all numbers exactly."""
    assert (found.begin, found.step_s, found.low.shape) == (wanted.begin, wanted.step_s, wanted.low.shape)
    np.testing.assert_array_equal(found.low, wanted.low)
    np.testing.assert_array_equal(found.high, wanted.high)


@pytest.fixture
def both_nodes(conversion: SiteConversion) -> SiteConversion:
    """Return a conversion of an input of each node, one that never comes, and one more."""
    return replace(conversion, inputs=("shed-2/t1", "shed-1/t2", "elsewhere/t1", "shed-1/t1"), key="both")


SPANS = st.tuples(st.floats(-4000, 19_000), st.floats(1, 24_000), st.sampled_from([1, 7, 60, 300, 2000]))


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(spans=st.lists(SPANS, min_size=1, max_size=4), cuts=st.lists(st.integers(1, 1940), max_size=3))
def test_any_chart_at_any_time_is_that_of_the_single_scans(
    spans: list[tuple[float, float, int]],
    cuts: list[int],
    rows: list[TailRow],
    both_nodes: SiteConversion,
    begin: float,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """While scans come and are sealed, one reader's charts of any stretch equal those worked out scan by scan."""
    path = tmp_path_factory.mktemp("chart") / "x.sqlite3"
    writer = connect_writer(path)
    migrate(writer)
    reader = connect_reader(path)
    charts = Charts()
    done = 0
    for upto in [*sorted(cuts), len(rows)]:
        fill(writer, rows[done:upto])
        done = upto
        for is_sealed in (False, True):
            if is_sealed:
                seal(writer, both_nodes)
            for offset, length, columns in spans:
                span = (begin + offset, begin + offset + length, columns)
                assert_same(charts.envelope(reader, "f", span, both_nodes), expected(rows[:done], both_nodes, span))
    reader.close()
    writer.close()


def test_heads_of_another_conversion_are_not_used(
    connections: tuple[sqlite3.Connection, sqlite3.Connection],
    rows: list[TailRow],
    both_nodes: SiteConversion,
    begin: float,
) -> None:
    """A wrong letter put right is in the next chart, before any head was built anew."""
    writer, reader = connections
    fill(writer, rows)
    assert seal(writer, both_nodes) == 8
    charts = Charts()
    span = (begin, begin + 18_000, 100)

    def warmer(block: ScanBlock) -> Temperatures:
        found = both_nodes.convert(block)
        return replace(found, celsius=found.celsius + 7.0)

    corrected = replace(both_nodes, key="corrected", convert=warmer)

    assert_same(charts.envelope(reader, "f", span, both_nodes), expected(rows, both_nodes, span))
    assert_same(charts.envelope(reader, "f", span, corrected), expected(rows, corrected, span))


def test_damage_leaves_a_hole_only_where_scans_are_needed(
    connections: tuple[sqlite3.Connection, sqlite3.Connection],
    rows: list[TailRow],
    both_nodes: SiteConversion,
    begin: float,
) -> None:
    """With a block's scans damaged its heads still draw the whole firing; close up it is missing, and named."""
    writer, reader = connections
    fill(writer, rows)
    seal(writer, both_nodes)
    writer.execute("UPDATE block SET payload = X'0102030405' WHERE id = 2")
    charts = Charts()
    (node, first, last) = writer.execute("SELECT node, first_row, last_row FROM block WHERE id = 2").fetchone()
    others = [row for row in rows if row.node != node or not first <= row.row <= last]
    whole, close = (begin, begin + 18_000, 100), (begin, begin + 3600, 3600)

    assert charts.envelope(reader, "f", whole, both_nodes).damaged_blocks == ()
    assert_same(charts.envelope(reader, "f", whole, both_nodes), expected(rows, both_nodes, whole))
    assert_same(charts.envelope(reader, "f", close, both_nodes), expected(others, both_nodes, close))
    assert charts.envelope(reader, "f", close, both_nodes).damaged_blocks == (2,)


def test_damaged_heads_are_made_good_from_the_scans(
    connections: tuple[sqlite3.Connection, sqlite3.Connection],
    rows: list[TailRow],
    both_nodes: SiteConversion,
    begin: float,
) -> None:
    """A head whose CRC is wrong is worked out again for the chart."""
    writer, reader = connections
    fill(writer, rows)
    seal(writer, both_nodes)
    writer.execute("UPDATE block SET heads = X'0102030405' WHERE id = 2")
    span = (begin, begin + 18_000, 100)

    found = Charts().envelope(reader, "f", span, both_nodes)

    assert found.damaged_blocks == ()
    assert_same(found, expected(rows, both_nodes, span))


def test_what_is_kept_is_bounded(
    connections: tuple[sqlite3.Connection, sqlite3.Connection],
    rows: list[TailRow],
    both_nodes: SiteConversion,
    begin: float,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No more blocks and firings are kept than the bounds say."""
    monkeypatch.setattr(history, "MOST_BLOCKS", 3)
    writer, reader = connections
    fill(writer, rows)
    seal(writer, both_nodes)
    charts = Charts()
    close = (begin, begin + 18_000, 10_000)

    found = charts.envelope(reader, "f", close, both_nodes)
    for firing in ("a", "b", "c"):
        charts.envelope(reader, firing, close, both_nodes)
    charts.envelope(reader, "f", close, both_nodes)

    assert_same(found, expected(rows, both_nodes, close))
    assert len(charts._firings) == history.MOST_FIRINGS
    assert all(len(chart._blocks) <= 3 for chart in charts._firings.values())


def test_the_readers_history_is_safe_in_threads(
    store: object, make_arrival: Callable[..., Arrival], conversion: SiteConversion, begin: float
) -> None:
    """The reader draws through one lock; an empty stretch is refused before anything is read."""
    writer = store.start_writer(lambda _: None)  # type: ignore[attr-defined]
    firing = writer.begin_firing(begin, "k", "").id
    for number in range(20):
        writer.submit_scan(firing, make_arrival(number))
    assert writer.close() == 0
    reader = store.reader()  # type: ignore[attr-defined]

    found = reader.history(firing, begin, begin + 20, 20, conversion)

    assert found.low.shape == (2, 20)
    assert found.low.dtype == found.high.dtype == np.float32
    assert not np.isnan(found.low).any()
    with pytest.raises(ValueError, match="begin before end"):
        reader.history(firing, begin, begin, 20, conversion)
    reader.close()
