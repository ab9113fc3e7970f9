"""Many recordings at once: below a folder of any depth, on all cores or on a cluster."""

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from leanwright import __version__
from leanwright.errors import UnreachableRecordingError, UnwritablePlaceError
from leanwright.showing import html_of
from leanwright.survey.cluster import run_on_cluster
from leanwright.survey.engines import EngineLine, engine_lines, with_engines
from leanwright.survey.journal import Journal
from leanwright.survey.pool import run_here, usable_cores
from leanwright.survey.run import Progress, Surveyed, survey
from leanwright.survey.tables import as_csv, as_parquet, as_table
from leanwright.survey.task import Outcome, Task, Work
from leanwright.told import Told
from leanwright.workbench.places import cache_place, memory_place
from leanwright.workbench.writing import write_whole

ROOMS: Final = ("analysis", "engine", "recordings", "workbench")
"""Rooms whose code decides what a row holds: when one of their files changes, kept rows are not taken."""
FORMATS: Final = (".parquet", ".csv", ".json")


@dataclass(frozen=True, slots=True)
class Survey:
    """What the terminal, the page, the tables and the JSON document are made from."""

    rows: tuple[dict[str, Any], ...]
    unreadable: tuple[tuple[str, str], ...]
    engines: tuple[EngineLine, ...]
    read_now: int
    known: int

    _repr_html_ = html_of


def read_rows(place: str, name: str) -> list[dict[str, Any]]:
    """The work on one file. What is heavy is loaded here, so that only workers carry it."""
    from leanwright.workbench.survey_file import rows_of_file

    return rows_of_file(place, name)


def survey_folder(
    folder: Path,
    *,
    out: Path | None = None,
    workers: int | None = None,
    cluster: str | None = None,
    engine_of: Mapping[str, str] | None = None,
    kept_in: Path | None = None,
    progress: Callable[[Progress], None] = lambda _progress: None,
) -> Survey:
    """Survey every recording below a folder.

    ``engine_of`` names the engine of files, ``kept_in`` is the folder of journals (by default the user's cache folder).
    """
    if out is not None and out.suffix.lower() not in FORMATS:
        raise UnwritablePlaceError(out, Told("its ending is none of {endings}", endings=", ".join(FORMATS)))
    done = work_through(
        folder, read_rows, "survey", workers=workers, cluster=cluster, kept_in=kept_in,
        leave_out=frozenset({out.absolute()} if out else ()), progress=progress,
    )  # fmt: skip
    rows = with_engines([row for outcome in done.outcomes for row in outcome.rows], engine_of or {})
    unreadable = tuple((one.name, one.reason) for one in done.outcomes if one.reason is not None)
    return Survey(
        tuple(rows), unreadable, engine_lines(rows), done.read_now, len(done.outcomes) - done.read_now
    )


def work_through(
    folder: Path,
    work: Work,
    kind: str,
    *,
    workers: int | None = None,
    cluster: str | None = None,
    kept_in: Path | None = None,
    leave_out: frozenset[Path] = frozenset(),
    progress: Callable[[Progress], None] = lambda _progress: None,
) -> Surveyed:
    """Do one kind of work on every file below a folder that is new or changed."""
    if not folder.is_dir():
        reason = "It is no folder." if folder.exists() else "There is no such folder."
        raise UnreachableRecordingError(str(folder), reason, "Name the folder that holds the recordings.")

    def runner(todo: Work, chunks: Iterable[Sequence[Task]]) -> Iterator[list[Outcome]]:
        if cluster is not None:
            return run_on_cluster(todo, chunks, cluster)
        return run_here(todo, chunks, workers or usable_cores())

    folder = folder.absolute()
    with Journal(_journal_place(folder, kind, kept_in), program_mark()) as journal:
        return survey(folder, work, runner, journal, leave_out=leave_out, progress=progress)


def _journal_place(folder: Path, kind: str, kept_in: Path | None) -> Path:
    digest = hashlib.sha256(str(folder.resolve()).encode()).hexdigest()
    return (kept_in or cache_place()) / f"{kind}-{digest[:16]}.jsonl"


def program_mark() -> str:
    """What the rows depend on beside the files: the program's code and the remembered corrections."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256(__version__.encode())
    for room in ROOMS:
        for place in sorted((package / room).rglob("*.py")):
            status = place.stat()
            digest.update(f"{place.name} {status.st_size} {status.st_mtime_ns};".encode())
    memory = memory_place()
    if memory.is_file():
        digest.update(memory.read_bytes())
    return digest.hexdigest()[:16]


def write_table(surveyed: Survey, out: Path, document: Mapping[str, Any]) -> None:
    """Write the rows whole, in the form that the file's ending names."""
    match out.suffix.lower():
        case ".json":
            content = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1).encode() + b"\n"
        case ".csv":
            content = as_csv(as_table(surveyed.rows))
        case _:
            content = as_parquet(as_table(surveyed.rows))
    write_whole(out, content)
