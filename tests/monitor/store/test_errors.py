"""The store's own errors."""

from monitor.store.errors import DamagedBlockError, StoreError


def test_a_damaged_block_says_which_and_what_to_do() -> None:
    """Number, place and reason are in the message."""
    error = DamagedBlockError(7, "shed-1, rows 1 to 9", "CRC is wrong")

    assert isinstance(error, StoreError)
    assert error.block == 7
    assert str(error) == (
        "block 7 (shed-1, rows 1 to 9) is damaged: CRC is wrong; restore it from a backup or an export"
    )
