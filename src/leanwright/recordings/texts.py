"""Cells kept as they are written; those of a regular file as bytes, since few of them are ever looked at one by one."""

import itertools
from collections.abc import Iterator, Sequence
from typing import overload

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[np.uint8]


class Texts(Sequence[str]):
    """The cells of one column, block by block."""

    def __init__(self, cells: Sequence[str] = ()) -> None:
        self._parts: list[Sequence[str] | Codes] = []
        self._rows = 0
        self.add(cells)

    def add(self, cells: Sequence[str]) -> None:
        """Take the next rows' cells."""
        if cells:
            self._parts.append(cells)
            self._rows += len(cells)

    def add_codes(self, codes: Codes) -> None:
        """Take the next rows' cells, all as long, as their ASCII codes by row and character."""
        self._parts.append(codes)
        self._rows += len(codes)

    @property
    def codes(self) -> Codes | None:
        """The ASCII codes of all cells by row and character; ``None`` unless all are as long and were taken so."""
        parts = [part for part in self._parts if isinstance(part, np.ndarray)]
        if not parts or len(parts) < len(self._parts) or len({part.shape[1] for part in parts}) > 1:
            return None
        if len(parts) > 1:
            self._parts = [np.concatenate(parts)]
        return parts[0] if len(parts) == 1 else self.codes

    def runs(self) -> tuple[list[str], NDArray[np.int64]] | None:
        """The cell of each run of rows with the same one, and how many rows it has; ``None`` as for :attr:`codes`."""
        codes = self.codes
        return None if codes is None else runs_of(codes)

    def __len__(self) -> int:
        """How many cells there are."""
        return self._rows

    def __iter__(self) -> Iterator[str]:
        """Each cell."""
        return itertools.chain.from_iterable(map(written, self._parts))

    @overload
    def __getitem__(self, which: int) -> str: ...

    @overload
    def __getitem__(self, which: slice) -> list[str]: ...

    def __getitem__(self, which: int | slice) -> str | list[str]:
        """One cell, or some."""
        if isinstance(which, slice):
            first, last, step = which.indices(self._rows)
            return list(itertools.islice(self, first, last, step))
        if not -self._rows <= which < self._rows:
            raise IndexError(which)
        return next(itertools.islice(self, which % self._rows, None))


def written(part: Sequence[str] | Codes) -> Sequence[str]:
    """The cells of a part as text."""
    if not isinstance(part, np.ndarray):
        return part
    width = part.shape[1]
    text = part.tobytes().decode("ascii")
    return (
        [text[place : place + width] for place in range(0, len(text), width)] if width else [""] * len(part)
    )


def runs_of(codes: Codes) -> tuple[list[str], NDArray[np.int64]]:
    """The text of each run of equal rows, and how many rows it has."""
    changes = np.flatnonzero((codes[1:] != codes[:-1]).any(axis=1)) + 1
    edges = np.concatenate([[0], changes, [len(codes)]])
    return list(written(codes[edges[:-1]])), np.diff(edges)
