"""Chunks of work on all cores of this machine, with the standard library's pool of processes."""

import multiprocessing
import os
import signal
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from itertools import islice
from typing import Final

from leanwright.survey.task import Outcome, Task, Work, run_chunk
from leanwright.told import Told

AHEAD: Final = 3
"""Chunks a worker that are handed out before their turn, so that none waits for the next."""
TRIES: Final = 2
"""How often a file is tried by itself after a worker died with it."""

Chunk = Sequence[Task]


def usable_cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else (os.cpu_count() or 1)


def run_here(work: Work, chunks: Iterable[Chunk], workers: int) -> Iterator[list[Outcome]]:
    """Outcomes of each chunk, as they are done.

    A worker that dies (killed, or out of memory) is replaced, and what was under way is done again file by file; a
    file with which a worker dies each time is told as unreadable. Ctrl-C, or ending the iteration, ends the workers.
    """
    waiting = iter(chunks)
    running: dict[Future[list[Outcome]], Chunk] = {}
    pool = _pool(workers)
    try:
        while True:
            for chunk in islice(waiting, workers * AHEAD - len(running)):
                running[_handed_out(pool, work, chunk)] = chunk
            if not running:
                return
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            died = any(isinstance(future.exception(), BrokenProcessPool) for future in done)
            if died:
                # The whole pool is broken then, and every future of it is done.
                done, _ = wait(running)
                _end(pool)
                pool = _pool(workers)
            for future in done:
                chunk = running.pop(future)
                if isinstance(future.exception(), BrokenProcessPool):
                    yield from _one_by_one(work, chunk)
                else:
                    yield future.result()
    finally:
        _end(pool)


def _pool(workers: int) -> ProcessPoolExecutor:
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=spawn, initializer=_leave_ctrl_c)


def _handed_out(pool: ProcessPoolExecutor, work: Work, chunk: Chunk) -> Future[list[Outcome]]:
    """The future of a chunk; one that is broken already where a worker died meanwhile."""
    try:
        return pool.submit(run_chunk, work, chunk)
    except BrokenProcessPool as error:
        broken: Future[list[Outcome]] = Future()
        broken.set_exception(error)
        return broken
    except RuntimeError as error:
        # "can't start new thread": the library has no error of its own for it.
        raise MemoryError from error


def _end(pool: ProcessPoolExecutor) -> None:
    """End the workers; a pool that could not be started is waited for by nobody."""
    with suppress(RuntimeError):
        pool.shutdown(wait=True, cancel_futures=True)


def _leave_ctrl_c() -> None:
    """Ctrl-C reaches every process of a terminal: the parent alone decides what it means."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _one_by_one(work: Work, chunk: Chunk) -> Iterator[list[Outcome]]:
    """Each file of a chunk by itself; one with which the worker dies is told, and the next gets a new worker."""
    pool = _pool(1)
    try:
        for task in chunk:
            for _ in range(TRIES):
                try:
                    yield _handed_out(pool, work, [task]).result()
                    break
                except BrokenProcessPool:
                    _end(pool)
                    pool = _pool(1)
            else:
                reason = Told(
                    "A worker died on it {times} times: too large for this machine's memory, or it was ended.",
                    times=TRIES,
                )
                yield [Outcome(task.name, task.mark, None, reason=reason)]
    finally:
        _end(pool)
