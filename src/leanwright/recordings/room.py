"""Arrays that are used again for each block of a file: to make new ones costs more than all that is done with them."""

import math
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray


class Room:
    """A place for arrays, each known by what it holds."""

    def __init__(self) -> None:
        self._arrays: dict[str, NDArray[Any]] = {}

    def take(self, name: str, shape: tuple[int, ...], kind: DTypeLike) -> NDArray[Any]:
        """An array of this shape and kind, of any content; the one that was taken by the same name before is lost."""
        size = math.prod(shape)
        array = self._arrays.get(name)
        if array is None or array.size < size:
            array = self._arrays[name] = np.empty(size + size // 8, dtype=kind)
        return array[:size].reshape(shape)
