"""A whole folder: what is new or changed is read, what is known is taken from the journal, and every file is told."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from leanwright.survey.find import Found, Refused, find_files
from leanwright.survey.journal import Journal
from leanwright.survey.task import Outcome, Task, Work

CHUNK_BYTES: Final = 16 << 20
"""So much is read at a time by one worker: some 0.5 s of work, against which handing it out is small."""
CHUNK_FILES: Final = 64
LEAST_CHUNKS: Final = 8
"""A small folder is cut into so many, that every core has something to do."""

Runner = Callable[[Work, Iterable[Sequence[Task]]], Iterator[list[Outcome]]]


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a run is: files and bytes done of those that have to be read."""

    files: int
    of_files: int
    bytes_done: int
    of_bytes: int


@dataclass(frozen=True, slots=True)
class Surveyed:
    """Every file below a folder once: its outcome, in order of name. ``read_now`` counts those that were read."""

    outcomes: tuple[Outcome, ...]
    read_now: int


def survey(
    folder: Path,
    work: Work,
    runner: Runner,
    journal: Journal,
    *,
    leave_out: frozenset[Path] = frozenset(),
    progress: Callable[[Progress], None] = lambda _progress: None,
) -> Surveyed:
    """Read every file below a folder that is new or changed since the journal was written.

    A file whose size, times and number are as before is not opened; one that was touched is read only if its digest
    is another. Each outcome is kept as soon as it is there.
    """
    outcomes: dict[str, Outcome] = {}
    fresh: list[tuple[Task, int]] = []
    for one in find_files(folder, leave_out):
        if isinstance(one, Refused):
            outcomes[one.name] = Outcome(one.name, "", None, reason=one.reason)
            continue
        known = journal.get(one.name)
        if known is not None and known.mark == one.mark and known.digest is not None:
            outcomes[one.name] = known
        else:
            fresh.append((_task(one, known), one.size_bytes))
    size = {task.name: bytes_ for task, bytes_ in fresh}
    done_files = done_bytes = read_now = 0
    total = sum(size.values())
    for chunk in runner(work, chunks(fresh, min(CHUNK_BYTES, total // LEAST_CHUNKS))):
        for outcome in chunk:
            known = journal.get(outcome.name)
            if outcome.unchanged and known is not None:
                kept = replace(known, mark=outcome.mark)
            else:
                kept = outcome
                read_now += 1
            if kept.digest is not None:
                journal.keep(kept)
            outcomes[outcome.name] = kept
            done_files, done_bytes = done_files + 1, done_bytes + size[outcome.name]
        progress(Progress(done_files, len(fresh), done_bytes, total))
    journal.tidy(set(outcomes))
    return Surveyed(tuple(outcomes[name] for name in sorted(outcomes)), read_now)


def chunks(tasks: Iterable[tuple[Task, int]], chunk_bytes: int) -> Iterator[list[Task]]:
    """Files put together until they are worth handing out."""
    chunk: list[Task] = []
    held = 0
    for task, size in tasks:
        if chunk and (held + size > chunk_bytes or len(chunk) >= CHUNK_FILES):
            yield chunk
            chunk, held = [], 0
        chunk.append(task)
        held += size
    if chunk:
        yield chunk


def _task(one: Found, known: Outcome | None) -> Task:
    return Task(str(one.place), one.name, one.mark, known.digest if known else None)
