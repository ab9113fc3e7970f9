"""An entry of the book: who wrote what, when, about what, and on top of which entry before it."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Annotated, Any, Final, Literal

import msgspec

from leanwright.book import chain
from leanwright.book.canonical import canonical

FORMAT: Final = "leanwright/entry/1"
EARLIEST_PLAUSIBLE: Final = "2026-01-01T00:00:00Z"
"""Before this there was no such program: a clock that says so is wrong."""
LATEST_PLAUSIBLE: Final = "2100-01-01T00:00:00Z"
TIME_FORM: Final = "%Y-%m-%dT%H:%M:%SZ"

Digest = Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$")]
Text = Annotated[str, msgspec.Meta(min_length=1, max_length=20_000)]
Line = Annotated[str, msgspec.Meta(min_length=1, max_length=200)]
DECIMAL: Final = r"^-?(0|[1-9][0-9]{0,11})(\.[0-9]{1,9})?$"
Decimal = Annotated[str, msgspec.Meta(pattern=DECIMAL)]
HOURS: Final = r"(0|[1-9][0-9]{0,5})(\.[0-9]{1,4})?"
ClockFlag = Literal["earlier-than-before", "implausible"]


class Record(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True, gc=False
):
    """What all parts of an entry have in common: frozen, and no field that is not known."""


Day = date
"""Another name, for a field that is itself called date: from Python 3.14 on its annotation would mean the field."""


class Worked(Record, frozen=True):
    """When the work was done, as the person says it: its date, and the engine's hours then [h], as :data:`HOURS`."""

    date: Day
    hours: str | None = None


class Author(Record, frozen=True):
    """Who wrote the entry, and how the program knows: the machine's account, or a name that was typed."""

    name: Line
    identified_by: Literal["account", "typed"]


class Signature(Record, frozen=True):
    """Who signed, as given by that person; the program states no more than it was told."""

    name: Line
    certificate_number: Line
    certificate_kind: Line
    meaning: Literal["performed", "inspected", "released"]
    time: Line
    identified_by: Literal["typed-by-signer", "signed-on-paper"]
    shown_sha256: Digest


class Attached(Record, frozen=True):
    """A file that belongs to an entry. Its content is kept under its digest."""

    name: Line
    size: int
    sha256: Digest


class Entry(Record, frozen=True):
    """One entry. The order of the fields says nothing: the bytes are in canonical form.

    What people type is checked when it is written (:mod:`leanwright.book.kinds`); here only the types are.
    """

    format: Literal["leanwright/entry/1"]
    ledger: str
    sequence: int
    kind: str
    subject: str
    body: msgspec.Raw
    recorded: str
    offset_minutes: int
    author: Author
    program: str
    request_key: str
    previous: str
    worked: Worked | None = None
    signature: Signature | None = None
    supersedes: int | None = None
    supersedes_hash: str | None = None
    reason: str | None = None
    attachments: tuple[Attached, ...] = ()


@dataclass(frozen=True, slots=True)
class Sealed:
    """An entry with the bytes that were hashed, and their hash."""

    entry: Entry
    data: bytes
    hash: str


_decoder: Final = msgspec.json.Decoder(Entry)


def decode(data: bytes) -> Entry:
    """The entry of some canonical bytes; raises ``msgspec.MsgspecError`` for bytes that are none."""
    return _decoder.decode(data)


def seal(entry: dict[str, object]) -> Sealed:
    """The entry of some fields, as bytes and hash."""
    data = canonical({key: value for key, value in entry.items() if value not in (None, [], ())})
    made = decode(data)
    return Sealed(made, data, chain.link(chain.ENTRY_MARK, made.previous, data))


def plain(entry: Entry) -> dict[str, Any]:
    """An entry as plain data, its fields as they were written."""
    return msgspec.json.decode(msgspec.json.encode(entry))  # type: ignore[no-any-return]  # an object gives a dict


def is_canonical(data: bytes) -> bool:
    """Whether bytes are in the one form that they may have."""
    return canonical(msgspec.json.decode(data)) == data


def stamp(now: datetime) -> tuple[str, int]:
    """The recorded time of a clock that knows its zone: in UTC, and the local offset [min]."""
    offset = now.utcoffset() or timedelta()
    moment = now.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="seconds")
    return f"{moment}Z", round(offset.total_seconds() / 60)


def local_date(entry: Entry) -> date:
    """The date on which the entry was written, where it was written."""
    if not entry.offset_minutes:
        return date.fromisoformat(entry.recorded[:10])
    moment = datetime.fromisoformat(entry.recorded)
    try:
        return moment.astimezone(timezone(timedelta(minutes=entry.offset_minutes))).date()
    except OverflowError:  # the last day that the calendar has, east of Greenwich
        return moment.date()


def days_late(entry: Entry) -> int:
    """How many days after the work the entry was written [d]; 0 for one written on the day."""
    return max((local_date(entry) - entry.worked.date).days, 0) if entry.worked else 0


def clock_flag(recorded: str, latest_before: str) -> ClockFlag | None:
    """What is strange about the clock of an entry; entries are never refused or moved for it."""
    if not EARLIEST_PLAUSIBLE <= recorded < LATEST_PLAUSIBLE:
        return "implausible"
    return "earlier-than-before" if recorded < latest_before else None
