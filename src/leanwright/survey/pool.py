"""Chunks of work on all cores of this machine, with the standard library's pool of processes."""

import multiprocessing
import os
import signal
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
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
                running[pool.submit(run_chunk, work, chunk)] = chunk
            if not running:
                return
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            died = any(isinstance(future.exception(), BrokenProcessPool) for future in done)
            if died:
                # The whole pool is broken then, and every future of it is done.
                done, _ = wait(running)
                pool.shutdown()
                pool = _pool(workers)
            for future in done:
                chunk = running.pop(future)
                if isinstance(future.exception(), BrokenProcessPool):
                    yield from _one_by_one(work, chunk)
                else:
                    yield future.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _pool(workers: int) -> ProcessPoolExecutor:
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=spawn, initializer=_leave_ctrl_c)


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
                    yield pool.submit(run_chunk, work, [task]).result()
                    break
                except BrokenProcessPool:
                    pool.shutdown()
                    pool = _pool(1)
            else:
                reason = Told(
                    "A worker died on it {times} times: too large for this machine's memory, or it was ended.",
                    times=TRIES,
                )
                yield [Outcome(task.name, task.mark, None, reason=reason)]
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
