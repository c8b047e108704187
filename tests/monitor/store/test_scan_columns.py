"""Scans as columns and back, and as the conversion takes them."""

from collections.abc import Callable

import numpy as np
from msgspec.structs import replace

from monitor.columns import to_block
from monitor.model import InputFault, Reading, Scan
from monitor.store.cells import cells_of, encode_cells
from monitor.store.scan_columns import TailRow, columns_of, rows_between, scan_block_of, scans_of

KINDS = (
    Reading("n/t1", emf_volts=0.01, cold_junction_c=20.0),
    Reading("n/t2", cold_junction_c=20.0, fault=InputFault.OPEN),
    Reading("n/t3", temperature_c=500.0),
    Reading("n/o2", oxygen_emf_volts=0.05, temperature_c=900.0),
    Reading("n/door", contact=True),
    Reading("n/odd", emf_volts=float("nan"), fault=InputFault.RANGE),
    Reading("n/none"),
)


def row_of(number: int, scan: Scan, *, late: bool = False) -> TailRow:
    """Return a scan as the tail keeps it."""
    return TailRow(
        number, scan.node, scan.boot, scan.seq, scan.time, scan.time + 0.1, late, encode_cells(cells_of(scan.readings))
    )


def test_scans_come_back_from_columns(make_row: Callable[..., TailRow], make_scan: Callable[..., Scan]) -> None:
    """Rows of the tail become columns and then the scans that they were."""
    rows = [make_row(number) for number in range(120)]

    scans = list(scans_of(columns_of(rows)))

    assert [s.scan for s in scans] == [make_scan(number) for number in range(120)]
    assert [(s.row, s.clock, s.late) for s in scans] == [(r.row, r.clock, r.late) for r in rows]


def test_changing_inputs_and_boots_come_back() -> None:
    """Inputs may come and go from scan to scan, boot and seq may be missing, lateness is kept."""
    scans = [
        Scan("n", 1.0, KINDS[:2], boot="a", seq=1),
        Scan("n", 2.0, KINDS[2:5]),
        Scan("n", 3.0, (), boot="b"),
        Scan("n", 2.5, (KINDS[0], KINDS[6]), seq=0),
    ]
    rows = [row_of(10 + i, scan, late=i == 3) for i, scan in enumerate(scans)]

    stored = list(scans_of(columns_of(rows)))

    assert [s.scan for s in stored] == scans
    assert [s.late for s in stored] == [False, False, False, True]


def test_not_a_number_is_told_apart_from_nothing() -> None:
    """A number sent as NaN comes back as NaN, one not sent as None."""
    scan = Scan("n", 1.0, KINDS)

    (stored,) = scans_of(columns_of([row_of(1, scan)]))

    odd = next(r for r in stored.scan.readings if r.input == "n/odd")
    assert odd.emf_volts is not None
    assert np.isnan(odd.emf_volts)
    assert odd.cold_junction_c is None


def test_the_conversion_sees_what_it_sees_live() -> None:
    """Columns made from the store equal those that live operation makes of the same scans."""
    scans = [Scan("n", 1.0, KINDS[:3]), Scan("n", 2.0, (*KINDS[1:5], KINDS[6])), Scan("n", 3.0, ())]
    inputs = ("n/o2", "n/t1", "elsewhere/t9", "n/t2", "n/t3", "n/door", "n/none")

    stored = scan_block_of(columns_of([row_of(i, s) for i, s in enumerate(scans)]), inputs)

    live = to_block(scans, {name: i for i, name in enumerate(inputs)})
    for field in ("time", "emf_volts", "cold_junction_c", "temperature_c", "oxygen_emf_volts", "fault"):
        assert np.array_equal(getattr(stored, field), getattr(live, field), equal_nan=field != "fault"), field


def test_rows_between_cuts_after_and_up_to(make_row: Callable[..., TailRow]) -> None:
    """The first bound is left out, the second taken along; all is no copy."""
    columns = columns_of([make_row(number) for number in range(10)])

    assert rows_between(columns, 3, 6).row.tolist() == [4, 5, 6]
    assert len(rows_between(columns, 3, 6).numbers["emf_volts"]) == 3
    assert rows_between(columns, 0, 10) is columns
    assert len(rows_between(columns, 10, 20)) == 0


def test_long_stretches_come_back_whatever_changes_on_the_way() -> None:
    """Inputs, kinds, boots and lateness that change anywhere in a thousand scans are kept."""
    scans = []
    for number in range(1000):
        readings = KINDS[:5] if number < 300 else (KINDS[3], KINDS[0]) if number < 700 else (KINDS[6], KINDS[4])
        boot = None if 200 <= number < 260 else "abc"[number // 400]
        scans.append(Scan("n", float(number), tuple(readings), boot=boot, seq=number % 400))
    rows = [row_of(5 * i + 1, scan, late=i % 9 == 0) for i, scan in enumerate(scans)]

    columns = columns_of(iter(rows))

    order = {name: i for i, name in enumerate(columns.inputs)}
    for stored, row, scan in zip(scans_of(columns), rows, scans, strict=True):
        assert (stored.row, stored.clock, stored.late) == (row.row, row.clock, row.late)
        assert stored.scan == replace(scan, readings=tuple(sorted(scan.readings, key=lambda r: order[r.input])))
