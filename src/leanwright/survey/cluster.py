"""The same chunks on an existing cluster: the machines in it have to see the folder under the same path."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

from leanwright.errors import UnreachableClusterError
from leanwright.survey.task import Outcome, Task, Work, run_chunk
from leanwright.told import Told

PATIENCE_S: Final = 20.0
AHEAD: Final = 4
"""Chunks a thread of the cluster that are handed out before their turn."""
TRIES: Final = 3
"""How often a chunk is begun again after its worker was lost."""


def run_on_cluster(
    work: Work, chunks: Iterable[Sequence[Task]], address: str, *, patience_s: float = PATIENCE_S
) -> Iterator[list[Outcome]]:
    """Outcomes of each chunk, as they are done; a worker that is lost costs nothing but time.

    Raises
    ------
    UnreachableClusterError
        If the extra ``cluster`` is not installed, no scheduler answers, or it has no workers.
    """
    try:
        import distributed
    except ImportError as error:
        reason = "the library that speaks with a cluster is not installed"
        raise UnreachableClusterError(
            address, reason, "Install leanwright with its extra: leanwright[cluster]."
        ) from error
    # Its functions carry no types.
    library: Any = distributed
    client = _connect(library, address, patience_s)
    try:
        waiting = iter(chunks)
        running = library.as_completed(loop=client.loop)
        under_way: dict[str, Sequence[Task]] = {}
        while True:
            wanted = AHEAD * max(1, sum(client.nthreads().values()))
            while len(under_way) < wanted and (chunk := next(waiting, None)) is not None:
                future = client.submit(run_chunk, work, chunk, pure=False, retries=TRIES)
                under_way[future.key] = chunk
                running.add(future)
            if not under_way:
                return
            done = next(running)
            chunk = under_way.pop(done.key)
            yield done.result() if done.status == "finished" else _failed(chunk, done.exception())
    finally:
        client.close()


def _connect(library: Any, address: str, patience_s: float) -> Any:
    again = "Start the scheduler and its workers, or use --workers on this machine."
    try:
        client = library.Client(address, timeout=patience_s, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise UnreachableClusterError(
            address, Told("no scheduler answers ({error})", error=type(error).__name__), again
        ) from error
    if not client.nthreads():
        client.close()
        raise UnreachableClusterError(address, "the scheduler has no workers", again)
    return client


def _failed(chunk: Sequence[Task], error: BaseException) -> list[Outcome]:
    reason = Told(
        "The cluster gave it up ({kind}); run again without --cluster to see why.", kind=type(error).__name__
    )
    return [Outcome(task.name, task.mark, None, reason=reason) for task in chunk]
