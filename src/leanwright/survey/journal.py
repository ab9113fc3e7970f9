"""What earlier runs found, kept so that only new and changed files are read again.

One line of JSON a file, added as soon as the file is done: a run that is stopped or killed goes on where it was. A last
line that was cut is passed over.
"""

import json
import os
from pathlib import Path
from types import TracebackType
from typing import Self

from leanwright.errors import UnwritablePlaceError
from leanwright.survey.task import Outcome
from leanwright.told import as_plain, from_plain


class Journal:
    """The kept outcomes of one folder, by name. Outcomes of another program version or setting are not taken."""

    def __init__(self, place: Path, made_by: str) -> None:
        self._place = place
        self._made_by = made_by
        self._kept: dict[str, Outcome] = {}
        self._lines = 0
        self._read()
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
            self._stream = place.open("ab")
        except OSError as error:
            raise UnwritablePlaceError(place, error.strerror or str(error)) from error

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stream.close()

    def get(self, name: str) -> Outcome | None:
        """What is kept of a file."""
        return self._kept.get(name)

    def keep(self, outcome: Outcome) -> None:
        """Keep an outcome at once."""
        self._kept[outcome.name] = outcome
        self._lines += 1
        try:
            self._stream.write(self._line(outcome))
            self._stream.flush()
        except OSError as error:
            raise UnwritablePlaceError(self._place, error.strerror or str(error)) from error

    def tidy(self, names: set[str]) -> None:
        """Forget files that are gone, and lines that newer ones replaced, once they are the greater part."""
        if self._lines <= 2 * len(names) + 16:
            return
        fresh = self._place.with_suffix(".new")
        with fresh.open("wb") as stream:
            stream.writelines(self._line(one) for name, one in self._kept.items() if name in names)
            stream.flush()
            os.fsync(stream.fileno())
        self._stream.close()
        fresh.replace(self._place)
        self._stream = self._place.open("ab")

    def _line(self, outcome: Outcome) -> bytes:
        one = (
            self._made_by,
            outcome.name,
            outcome.mark,
            outcome.digest,
            as_plain(outcome.reason),
            outcome.rows,
        )
        return json.dumps(one, allow_nan=False, separators=(",", ":")).encode() + b"\n"

    def _read(self) -> None:
        try:
            data = self._place.read_bytes()
        except FileNotFoundError:
            return
        except OSError as error:
            raise UnwritablePlaceError(self._place, error.strerror or str(error)) from error
        whole, _, cut = data.rpartition(b"\n")
        mine = json.dumps(self._made_by).encode()
        for line in whole.splitlines():
            self._lines += 1
            if not line.startswith(b"[" + mine + b","):
                continue
            try:
                _, name, mark, digest, reason, rows = json.loads(line)
            except ValueError:  # a line torn by a crash: its file is read again
                continue
            self._kept[name] = Outcome(name, mark, digest, tuple(rows), from_plain(reason))
        if cut:
            # What follows a cut line would be joined to it: end it first.
            with self._place.open("ab") as stream:
                stream.write(b"\n")
