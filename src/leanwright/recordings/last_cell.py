"""Whether a file ends where it should: its very last cell beside those above it."""

from collections.abc import Sequence
from typing import Final

from leanwright.recordings.cells import any_number, is_time

ENOUGH_EMPTY: Final = 10


def is_whole(cell: str, before: Sequence[str]) -> bool:
    """Whether a file's very last cell looks whole beside those above it.

    >>> is_whole("14.2", ["14.1", "14.1"]), is_whole("14.", ["14.1", "14.1"])
    (True, False)
    >>> is_whole("1451", ["1449", "1450"]), is_whole("145", ["1449", "1450"])
    (True, False)
    """
    text = cell.strip()
    above = [other.strip() for other in before]
    if not text:
        return len(above) >= ENOUGH_EMPTY and not any(above)
    number = any_number(text)
    numbers = [other for other in above if any_number(other) is not None]
    if number is None:
        clock = is_time(text) and {len(other) for other in above} == {len(text)}
        return clock or (text in above and not any(o != text and o.startswith(text) for o in above))
    if not numbers:
        return False
    last = any_number(numbers[-1]) or 0.0
    decimals = {_decimals(other) for other in numbers}
    if _decimals(text) != max(decimals):
        return False
    if decimals != {0}:
        return len(decimals) == 1 or len(text) >= max(map(len, numbers))
    one_more_digit = 10 * number + (4.5 if number >= 0 else -4.5)
    return abs(number - last) < abs(one_more_digit - last)


def _decimals(text: str) -> int:
    """Digits behind the decimal mark."""
    place = max(text.rfind("."), text.rfind(","))
    return 0 if place < 0 else len(text) - place - 1
