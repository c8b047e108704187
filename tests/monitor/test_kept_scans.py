"""What a node may be told is kept."""

from monitor.kept_scans import KeptScans


def test_a_position_is_known_once_its_row_is_on_disk() -> None:
    """Each node's own, and never before."""
    kept = KeptScans()
    kept.wait_for(3, [("shed-1", ("b1", 7)), ("shed-2", (None, 40))])
    kept.wait_for(5, [("shed-1", ("b2", 0))])

    seen = []
    for row in (2, 3, 4, 5):
        kept.commit(row)
        seen.append(dict(kept.known))
    assert seen == [
        {},
        {"shed-1": ("b1", 7), "shed-2": (None, 40)},
        {"shed-1": ("b1", 7), "shed-2": (None, 40)},
        {"shed-1": ("b2", 0), "shed-2": (None, 40)},
    ]
