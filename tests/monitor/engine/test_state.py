"""Saving and restoring arrays."""

import msgspec
import numpy as np
import pytest

from monitor.engine.state import FORMAT, copy_into, pack_arrays, unpack

ARRAYS = {
    "celsius": np.array([[1.5, np.nan], [-np.inf, 3e-300]]),
    "run": np.array([3, -1], dtype=np.int64),
    "told": np.array([True, False]),
    "memory": np.array([7], dtype=np.uint32),
}


def test_arrays_come_back_bit_for_bit() -> None:
    """Values, types and shapes survive, NaN and infinities included."""
    found = unpack(pack_arrays(ARRAYS, "kiln"), "kiln")

    assert found.keys() == ARRAYS.keys()
    assert all(found[name].dtype == a.dtype and found[name].tobytes() == a.tobytes() for name, a in ARRAYS.items())
    assert found["celsius"].shape == (2, 2)


def test_saved_bytes_are_messagepack() -> None:
    """Another MessagePack reader finds the format, the setup and the arrays."""
    plain = msgspec.msgpack.decode(pack_arrays(ARRAYS, "kiln"))

    assert plain["setup"] == "kiln"
    assert plain["arrays"]["run"]["raw"] == ARRAYS["run"].tobytes()


@pytest.mark.parametrize(
    ("saved", "reason"),
    [
        (b"\xc1", "cannot be taken up"),
        (pack_arrays(ARRAYS, "kiln")[:-3], "cannot be taken up"),
        (pack_arrays(ARRAYS, "another kiln"), "another site file's"),
        (pack_arrays(ARRAYS, "kiln").replace(b"\xa6format" + bytes([FORMAT]), b"\xa6format\x63"), "version's"),
        (pack_arrays(ARRAYS, "kiln").replace(b"<i8", b"<q9"), "cannot be taken up"),
    ],
)
def test_what_cannot_be_taken_up_is_refused_with_the_reason(saved: bytes, reason: str) -> None:
    """Damage, another setup and another format raise, and the message says what to do."""
    with pytest.raises(ValueError, match=reason) as caught:
        unpack(saved, "kiln")

    assert "start without it" in str(caught.value)


def test_copying_changes_the_very_arrays() -> None:
    """Arrays that others hold get the restored values."""
    target = {"run": np.zeros(2, dtype=np.int64)}
    held = target["run"]

    copy_into(target, {"run": np.array([5, 6], dtype=np.int64)})

    assert held.tolist() == [5, 6]


@pytest.mark.parametrize(
    "found",
    [
        {},
        {"run": np.zeros(3, dtype=np.int64)},
        {"run": np.zeros(2, dtype=np.int32)},
        {"run": np.zeros(2, dtype=np.int64), "told": np.zeros(1)},
    ],
)
def test_arrays_of_another_form_are_refused_untouched(found: dict[str, np.ndarray]) -> None:
    """A missing, extra, longer or differently typed array raises and changes nothing."""
    target = {"run": np.array([1, 2], dtype=np.int64)}

    with pytest.raises(ValueError, match="arrays differ"):
        copy_into(target, found)

    assert target["run"].tolist() == [1, 2]
