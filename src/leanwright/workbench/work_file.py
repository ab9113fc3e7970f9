"""What was done to an engine and when: a plain table, one piece of work a line."""

import csv
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final, Literal

from leanwright.errors import UnusableWorkError
from leanwright.told import Told

Restarted = Literal["offset", "egt", "cht", "level"]
KINDS: Final[dict[str, tuple[Restarted, ...]]] = {
    "nozzle": ("offset", "egt", "cht"),
    "cleaning": ("offset", "egt", "cht"),
    "intake": ("offset", "egt", "cht"),
    "plug": ("egt", "cht"),
    "ignition": ("egt", "cht"),
    "egt-probe": ("egt",),
    "cht-probe": ("cht",),
    "cylinder": ("offset", "egt", "cht"),
    "engine": ("offset", "egt", "cht", "level"),
    "flow-sensor": ("level",),
    "fuel": ("level",),
}
"""Kinds of work, and what begins anew after each."""
COLUMNS: Final = ("date", "work", "cylinders")
MOST_BYTES: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class Work:
    """One piece of work; without cylinders it was done on all."""

    day: date
    kind: str
    cylinders: tuple[int, ...]

    @property
    def restarts(self) -> tuple[Restarted, ...]:
        """What begins anew."""
        return KINDS[self.kind]


def read_work(place: Path) -> tuple[Work, ...]:
    """Read a file of lines ``date,work,cylinders``: an ISO date, a kind, numbers with blanks between (none: all).

    Raises
    ------
    UnusableWorkError
        With the line that cannot be understood.
    """
    try:
        if place.stat().st_size > MOST_BYTES:
            raise UnusableWorkError(place.name, "It is larger than 1 MiB")
        lines = list(csv.reader(place.read_text("utf-8-sig").splitlines()))
    except OSError as error:
        raise UnusableWorkError(
            place.name, Told("It cannot be read ({reason})", reason=error.strerror or error)
        ) from error
    except (UnicodeDecodeError, csv.Error) as error:
        raise UnusableWorkError(place.name, "It is no table of text in UTF-8") from error
    if not lines or tuple(cell.strip().lower() for cell in lines[0]) != COLUMNS:
        raise UnusableWorkError(
            place.name, Told("Its first line is not {columns}", columns=",".join(COLUMNS))
        )
    return tuple(
        _work(place.name, number, cells)
        for number, cells in enumerate(lines[1:], start=2)
        if any(map(str.strip, cells))
    )


def _work(name: str, line: int, cells: list[str]) -> Work:
    if len(cells) != len(COLUMNS):
        raise UnusableWorkError(
            name,
            Told(
                "Line {line} has {cells} cells, not {wanted}",
                line=line,
                cells=len(cells),
                wanted=len(COLUMNS),
            ),
        )
    day, kind, cylinders = (cell.strip() for cell in cells)
    if kind not in KINDS:
        raise UnusableWorkError(
            name,
            Told(
                "Line {line}: {kind!r} is none of {kinds}", line=line, kind=kind[:40], kinds=", ".join(KINDS)
            ),
        )
    try:
        on = date.fromisoformat(day)
    except ValueError as error:
        raise UnusableWorkError(
            name, Told("Line {line}: {day!r} is no date such as 2031-04-12", line=line, day=day[:40])
        ) from error
    try:
        return Work(on, kind, tuple(int(word) for word in cylinders.split()))
    except ValueError as error:
        raise UnusableWorkError(
            name,
            Told(
                "Line {line}: {cylinders!r} are no cylinder numbers with blanks between",
                line=line,
                cylinders=cylinders[:40],
            ),
        ) from error
