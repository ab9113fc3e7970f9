"""A worksheet comes back from a phone: every step is held against the book again, and entered or refused by itself."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, Any, Final, Literal

import msgspec

from leanwright.book.entry import Day, Line, Record
from leanwright.book.kinds.hangar import Id
from leanwright.book.ledger import Ledger
from leanwright.errors import RefusedEntryError, UnusableFileError
from leanwright.told import Told
from leanwright.workbench import records
from leanwright.workbench.records import Said

MOST_STEPS: Final = 1000
MOST_BYTES: Final = 1 << 20


class _Left(Record, frozen=True):
    """How far the book was when the worksheet left it."""

    sequence: Annotated[int, msgspec.Meta(ge=0)]
    hash: Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$")]


class _Step(Record, frozen=True):
    """One step as it was entered on the phone: an entry for the book, by whom and on which day."""

    key: Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{32}$")]
    kind: Literal["fitting-step", "torque-reading", "removal", "pause", "resume", "inspection"]
    body: dict[str, Any]
    by: Line
    time: Line
    date: Day


class _Result(Record, frozen=True):
    """The result file of a worksheet."""

    format: Literal["leanwright/worksheet-result/1"]
    sheet: Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{32}$")]
    ledger: Line
    job: Id
    left: _Left
    steps: Annotated[tuple[_Step, ...], msgspec.Meta(max_length=MOST_STEPS)]


@dataclass(frozen=True, slots=True)
class HandedIn:
    """What became of one step: its entry, or why it was refused. ``before`` tells that it was handed in already."""

    step: str
    cylinder: int | None
    by: str
    time: str
    entry: int | None = None
    before: bool = False
    refused: RefusedEntryError | None = None


@dataclass(frozen=True, slots=True)
class Returned:
    """A worksheet that came back. ``since`` counts the book's entries since it left, ``since_of_job`` those of its job."""

    job: str
    left: int
    since: int
    since_of_job: int
    steps: tuple[HandedIn, ...]

    @property
    def refused(self) -> int:
        """How many steps were refused."""
        return sum(one.refused is not None for one in self.steps)


THE_RESULT: Final = Told("the result")
"""What it is called where it came without a name."""


def hand_in(book: Ledger, content: bytes, name: str = THE_RESULT) -> Returned:
    """Enter what a phone brings back; a step that was entered before is not entered again.

    Raises :class:`UnusableFileError` for a file that is no result, or the result of a worksheet of another book.
    """
    result = _read(content, name)
    if result.ledger != book.name:
        raise UnusableFileError(
            name,
            Told("This worksheet left from another book"),
            Told("Hand it in there, or take a new one from this book."),
        )
    if result.left.sequence > book.state().head_sequence or not _was_head(book, result.left):
        raise UnusableFileError(
            name,
            Told(
                "The book is not the one that this worksheet left from: entry {sequence} is another one",
                sequence=result.left.sequence,
            ),
            Told(
                "Was an older backup restored? Take a new worksheet, and enter the steps from this one by hand."
            ),
        )
    if result.job not in book.state().jobs:
        raise UnusableFileError(
            name, Told("There is no job {job!r} in the book", job=result.job), Told("Take a new worksheet.")
        )
    keys = frozenset(one.key for one in result.steps)
    later = list(_since(book, result.left.sequence, keys))
    steps = tuple(_enter(book, result.job, one) for one in result.steps)
    return Returned(result.job, result.left.sequence, len(later), later.count(result.job), steps)


def _read(content: bytes, name: str) -> _Result:
    if len(content) > MOST_BYTES:
        raise UnusableFileError(
            name,
            Told(
                "It has {count:,} bytes; a result has at most {most_bytes:,}",
                count=len(content),
                most_bytes=MOST_BYTES,
            ),
            Told("Hand in the result file."),
        )
    try:
        return msgspec.json.decode(content, type=_Result)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise UnusableFileError(
            name,
            Told("This is not the result of a worksheet"),
            Told("Save it on the phone again, or copy the whole text."),
        ) from error


def _was_head(book: Ledger, left: _Left) -> bool:
    return left.sequence == 0 or book.entry(left.sequence)[0].hash == left.hash


def _since(book: Ledger, sequence: int, own: frozenset[str]) -> Iterator[str | None]:
    """The job of every entry that others have written since."""
    for sealed, _newer in book.entries():
        entry = sealed.entry
        if entry.sequence > sequence and entry.request_key not in own:
            body = msgspec.json.decode(entry.body)
            yield body.get("id") if entry.kind == "job" else body.get("job")


def _enter(book: Ledger, job: str, one: _Step) -> HandedIn:
    cylinder = one.body.get("cylinder")
    came = HandedIn(
        step=str(one.body.get("step", one.kind)),
        cylinder=cylinder if isinstance(cylinder, int) else None,
        by=one.by,
        time=one.time,
    )
    if one.body.get("job") != job:
        other = Told("This step is not of job {job!r}", job=job)
        return replace(
            came, refused=RefusedEntryError("other-job", other, "Hand in the worksheet of its own job.")
        )
    try:
        said = Said(by=one.by, worked=one.date.isoformat(), request_key=one.key)
        written = records.add(book, one.kind, one.body, said)
    except RefusedEntryError as error:
        return replace(came, refused=error)
    return replace(came, entry=written.sequence, before=written.repeated)


def document(of: Returned) -> dict[str, Any]:
    """What was handed in, as other programs read it."""
    return {
        "format": "leanwright/handed-in/1",
        "job": of.job,
        "left": of.left,
        "entries_since": of.since,
        "entries_since_of_job": of.since_of_job,
        "refused": of.refused,
        "steps": [
            {
                "step": one.step,
                "cylinder": one.cylinder,
                "by": one.by,
                "time": one.time,
                "entry": one.entry,
                "before": one.before,
                "refusal": None
                if one.refused is None
                else {
                    "code": one.refused.code,
                    "reason": one.refused.reason,
                    "next_step": one.refused.next_step,
                },
            }
            for one in of.steps
        ],
    }
