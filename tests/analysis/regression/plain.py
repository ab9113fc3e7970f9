"""Any result of the analysis as plain data, and how far two of them differ."""

import math
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import fields, is_dataclass
from typing import TypeGuard

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.recording import Recording

MOST_NUMBERS = 12
"""Longer runs of numbers are kept as a few figures that any change of any of them moves."""
DIGITS = 9
RELATIVE, OF_BUDGET = 5e-4, 5e-3
"""How far a number may move against the largest of its row, and a part of a budget: rounding differs from processor to
processor, and a fit that stops early makes more of it."""
NOTHING = 1e-12


def plain(value: object) -> object:
    """Every field and number of a result, as JSON holds it; a recording is its name, and what is nothing is not there."""
    if value is None or isinstance(value, bool | np.bool_):
        return None if value is None else bool(value)
    if isinstance(value, str | int | np.integer):
        return str(value) if isinstance(value, str) else int(value)
    if isinstance(value, float | np.floating):
        return number(float(value))
    if isinstance(value, Recording):
        return value.name
    if is_dataclass(value) and not isinstance(value, type):
        found = {one.name: getattr(value, one.name) for one in fields(value)}
        return {name: plain(one) for name, one in found.items() if one is not None}
    if isinstance(value, np.ndarray):
        return list_of_numbers(value) if value.dtype.kind in "fiub" else plain(value.tolist())
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items() if one is not None}
    if isinstance(value, AbstractSet):
        return sorted((plain(one) for one in value), key=str)
    if isinstance(value, Sequence):
        return plain_row(value)
    raise TypeError(value)


def parts(one: object, *without: str) -> dict[str, object]:
    """The fields of a result by name, but for some."""
    assert is_dataclass(one)
    return {field.name: getattr(one, field.name) for field in fields(one) if field.name not in without}


def plain_row(values: Sequence[object]) -> object:
    """Things of one kind field by field, many numbers as one array, anything else one by one."""
    first = values[0] if len(values) > 1 else None
    if is_dataclass(first) and all(type(one) is type(first) for one in values):
        names = [one.name for one in fields(first)]
        columns = {name: [getattr(one, name) for one in values] for name in names}
        known = {name: column for name, column in columns.items() if any(one is not None for one in column)}
        return {"count": len(values), **{name: plain(column) for name, column in known.items()}}
    if len(values) > MOST_NUMBERS and all(one is None or isinstance(one, float) for one in values):
        return list_of_numbers(np.array(values, dtype=np.float64))
    arrays = [one.ravel() for one in values if isinstance(one, np.ndarray)]
    if len(arrays) == len(values) > 1:
        return list_of_numbers(np.concatenate(arrays))
    return [plain(one) for one in values]


def number(value: float) -> float | str:
    """A number with as many digits as are compared; JSON knows no infinity."""
    return float(f"{value:.{DIGITS}g}") if math.isfinite(value) else str(value)


def list_of_numbers(values: NDArray[np.generic]) -> object:
    """A few numbers as they are; of more their shape, how many are none, and means that tell their places apart."""
    if values.size <= MOST_NUMBERS:
        return [plain(one) for one in values.tolist()] if values.ndim else number(float(values))
    flat = values.astype(np.float64).ravel()
    known = np.isfinite(flat)
    place = np.arange(flat.size) + 1.0
    size = np.where(known, np.abs(flat), 0.0)
    turned = np.where(known, flat, 0.0) * (1.0 + 0.5 * np.sin(place))
    means = (size, np.where(known, flat, 0.0), turned)
    shape = "x".join(map(str, values.shape))
    return [shape, int((~known).sum()), *(number(float(one.mean())) for one in means)]


def differences(kept: object, now: object, place: str = "") -> Iterator[str]:
    """Every place at which two plain results differ."""
    if isinstance(kept, dict) and isinstance(now, dict):
        for key in dict.fromkeys((*kept, *now)):
            if key not in kept or key not in now:
                yield f"{place}.{key} is only {'kept' if key in kept else 'there now'}"
            else:
                yield from differences(kept[key], now[key], f"{place}.{key}")
    elif isinstance(kept, list) and isinstance(now, list):
        if len(kept) != len(now):
            yield f"{place} had {len(kept)} entries, and has {len(now)}"
        largest = max((abs(one) for one in kept if is_number(one)), default=0.0)
        for row, (one, other) in enumerate(zip(kept, now, strict=False)):
            if is_number(one) and is_number(other):
                yield from moved(one, other, largest, f"{place}[{row}]")
            else:
                yield from differences(one, other, f"{place}[{row}]")
    elif is_number(kept) and is_number(now):
        yield from moved(kept, now, abs(kept), place)
    elif kept != now or type(kept) is not type(now):
        yield f"{place} was {kept!r}, and is {now!r}"


def is_number(value: object) -> TypeGuard[float]:
    """Whether it is a number, and no yes or no."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def moved(kept: float, now: float, largest: float, place: str) -> Iterator[str]:
    """Whether a number is farther off than rounding makes it."""
    relative = OF_BUDGET if ".budget" in place or ".parts" in place else RELATIVE
    if abs(kept - now) > relative * largest + NOTHING:
        yield f"{place} was {kept!r}, and is {now!r}"
