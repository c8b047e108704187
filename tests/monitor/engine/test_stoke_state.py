"""What the stoke detector remembers."""

from dataclasses import fields

import numpy as np

from monitor.engine.stoke_state import new_stokes


def test_every_record_is_made_of_arrays_with_a_leading_kiln_axis_or_one_for_all() -> None:
    """So that it can be saved, restored, and stepped for many kilns at once."""
    records = new_stokes((3, 2)).records()

    assert set(records) == {f"stoke-{name}" for name in ("cells", "noise", "answer", "times", "strength", "stokes")}
    for record in records.values():
        for array in (getattr(record, f.name) for f in fields(record)):
            assert isinstance(array, np.ndarray)
            assert array.shape[0] in (3, 1)
