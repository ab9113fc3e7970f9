"""The desk of the workbench: recordings kept by the digest of their content, and what a person said about them.

In its folder stand ``files`` (each as it came, named by its digest) and ``recordings`` (a folder each, named by the digest
of the recording's own text: what it was read as, and what was said of it by hand). What is worked out of several stands beside
them and can be thrown away. Names from outside are labels only.
"""

import hashlib
import os
import re
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final, Literal

import msgspec

from leanwright.errors import UnusableFileError
from leanwright.recordings.container import display_name
from leanwright.recordings.recording import Recording
from leanwright.told import Told
from leanwright.workbench.one_engine import stated
from leanwright.workbench.plain_recording import NotAReadingError, from_bytes
from leanwright.workbench.writing import changing, write_whole

DIGEST: Final = re.compile("[0-9a-f]{64}")
BLOCK: Final = 1 << 20
MOST_STATED: Final = 200
"""Of what a file says of its aircraft or engine so much is kept [characters]."""


class HandSweep(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A stretch that a person added as a sweep, or a sweep that was dropped, and why."""

    what: Literal["add", "drop"]
    start_s: float
    end_s: float
    reason: str


class About(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What is kept of a recording beside its reading."""

    id: str
    name: str
    file: str
    added: str
    corrections: tuple[str, ...] = ()
    row_interval_s: float | None = None
    by_hand: tuple[HandSweep, ...] = ()
    rows: int = 0
    duration_s: float = 0.0
    flown: str | None = None
    engine: str = ""
    """The engine of the book that it belongs to; empty where nobody has said."""
    stated_aircraft: str = ""
    """As the file says it; empty where it does not."""
    stated_engine: str = ""
    engine_found: bool = False
    """Whether the engine was told from what the file says, and not by a person."""


@dataclass(frozen=True, slots=True)
class Desk:
    """A desk by its folder."""

    folder: Path

    @property
    def files(self) -> Path:
        """Where files lie as they came."""
        return self.folder / "files"

    @property
    def recordings(self) -> Path:
        """Where readings lie."""
        return self.folder / "recordings"


def open_desk(folder: Path) -> Desk:
    """The desk of a folder; it is made, private, if it is not there."""
    desk = Desk(folder.absolute())
    with changing(folder):
        for place in (desk.folder, desk.files, desk.recordings):
            place.mkdir(parents=True, exist_ok=True, mode=0o700)
    return desk


def room_left(desk: Desk) -> int:
    """Free room on its disk [bytes]."""
    return shutil.disk_usage(desk.folder).free


def take_in(desk: Desk, stream: Callable[[int], bytes]) -> str:
    """Keep a file as it came; returns its digest. The same file again is the same file."""
    temporary = desk.files / f".{os.urandom(8).hex()}.part"
    digest = hashlib.sha256()
    with changing(desk.files):
        try:
            with temporary.open("xb") as kept:
                while block := stream(BLOCK):
                    digest.update(block)
                    kept.write(block)
                kept.flush()
                os.fsync(kept.fileno())
            temporary.replace(desk.files / digest.hexdigest())
        finally:
            temporary.unlink(missing_ok=True)
    return digest.hexdigest()


def file_of(desk: Desk, digest: str) -> Path:
    """The place of a kept file."""
    return desk.files / _checked(digest)


def keep(
    desk: Desk,
    file: str,
    readings: Sequence[bytes],
    *,
    added: datetime,
    corrections: Sequence[str] = (),
    row_interval_s: float | None = None,
    engine_of: Callable[[Recording], str] = lambda _recording: "",
) -> tuple[About, ...]:
    """Keep what a file was read as, all of it or nothing; what was said by hand of a recording that is here already stays.

    ``engine_of`` tells the engine of a recording that is new here, where it can.
    """
    abouts = [
        _about(desk, file, content, added, corrections, row_interval_s, engine_of) for content in readings
    ]
    new = [about for about in abouts if find(desk, about.id) is None]
    try:
        for about, content in zip(abouts, readings, strict=True):
            place = desk.recordings / about.id
            with changing(place):
                place.mkdir(exist_ok=True, mode=0o700)
            write_whole(place / "reading", content)
            write_about(desk, about)
    except BaseException:
        for about in new:
            shutil.rmtree(desk.recordings / about.id, ignore_errors=True)
        raise
    return tuple(abouts)


def _about(
    desk: Desk,
    file: str,
    content: bytes,
    added: datetime,
    corrections: Sequence[str],
    row_interval_s: float | None,
    engine_of: Callable[[Recording], str],
) -> About:
    """What is kept of a reading beside it."""
    try:
        recording = from_bytes(content)
    except NotAReadingError as error:
        raise UnusableFileError("reading", str(error), Told("Drop the recording again.")) from error
    old = find(desk, recording.sha256)
    engine = old.engine if old else engine_of(recording)
    aircraft_said, engine_said = stated(recording)
    return About(
        id=recording.sha256,
        name=display_name(recording.name),
        file=_checked(file),
        added=old.added if old else added.isoformat(timespec="seconds"),
        corrections=tuple(corrections),
        row_interval_s=row_interval_s,
        by_hand=old.by_hand if old else (),
        rows=recording.rows_kept,
        duration_s=recording.duration_s,
        flown=recording.started_at.isoformat() if recording.started_at else None,
        engine=engine,
        stated_aircraft=aircraft_said[:MOST_STATED],
        stated_engine=engine_said[:MOST_STATED],
        engine_found=old.engine_found if old else bool(engine),
    )


def write_about(desk: Desk, about: About) -> None:
    """Write what is kept of a recording."""
    write_whole(desk.recordings / _checked(about.id) / "about.json", msgspec.json.encode(about))


def find(desk: Desk, recording: str) -> About | None:
    """What is kept of a recording; ``None`` if there is no such recording here."""
    try:
        content = (desk.recordings / _checked(recording) / "about.json").read_bytes()
        return msgspec.json.decode(content, type=About)
    except (OSError, msgspec.DecodeError):
        return None


def names(desk: Desk) -> frozenset[str]:
    """The recordings that lie on the desk, by their ids."""
    try:
        return frozenset(place.name for place in desk.recordings.iterdir() if DIGEST.fullmatch(place.name))
    except OSError as error:
        raise UnusableFileError(
            desk.recordings.name,
            Told("It cannot be opened ({reason})", reason=error.strerror),
            Told("Check its rights."),
        ) from error


def everything(desk: Desk) -> tuple[About, ...]:
    """All recordings, the latest flight first; those without a date by the time when they were dropped."""
    found = [about for name in names(desk) if (about := find(desk, name)) is not None]
    return tuple(sorted(found, key=lambda one: (one.flown or one.added, one.id), reverse=True))


def of_file(desk: Desk, file: str) -> About | None:
    """A recording that came with a file; ``None`` if none is here."""
    return next((about for about in everything(desk) if about.file == file), None)


def reading(desk: Desk, about: About) -> Recording:
    """A kept recording as it was read."""
    try:
        return from_bytes((desk.recordings / _checked(about.id) / "reading").read_bytes())
    except (OSError, NotAReadingError) as error:
        raise UnusableFileError(
            about.name, Told("What was read of it is lost"), Told("Drop the recording again.")
        ) from error


def put_away(desk: Desk, recording: str) -> None:
    """Take a recording off the desk; its file stays as long as another recording came with it."""
    about = find(desk, recording)
    if about is None:
        return
    with changing(desk.recordings):
        shutil.rmtree(desk.recordings / about.id)
    forget_file(desk, about.file)


def forget_file(desk: Desk, digest: str) -> None:
    """Take a file away, unless a recording came with it."""
    if all(one.file != digest for one in everything(desk)):
        with changing(desk.files):
            file_of(desk, digest).unlink(missing_ok=True)


def _checked(digest: str) -> str:
    if not DIGEST.fullmatch(digest):
        raise ValueError(f"{digest[:80]!r} is no digest")
    return digest
