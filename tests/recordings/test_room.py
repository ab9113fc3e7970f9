"""Arrays that are used again: the same place as long as it is large enough, whatever is taken beside it."""

import numpy as np

from leanwright.recordings.room import Room


def test_a_place_is_used_again_while_it_is_large_enough() -> None:
    room = Room()
    first = room.take("values", (2, 36), "f8")
    beside = room.take("marks", (72,), bool)
    assert (first.shape, first.dtype, beside.dtype) == ((2, 36), np.dtype("f8"), np.dtype(bool))
    again = room.take("values", (81,), "f8")  # an eighth more than was asked for is kept
    assert np.shares_memory(first, again)
    assert not np.shares_memory(first, room.take("values", (82,), "f8"))
    assert np.shares_memory(beside, room.take("marks", (9, 9), bool))
