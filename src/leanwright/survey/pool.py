"""Chunks of work on all cores of this machine, with the standard library's pool of processes."""

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from itertools import islice
from multiprocessing import connection
from traceback import clear_frames
from typing import Final

from leanwright.survey.task import Outcome, Task, Work, run_chunk
from leanwright.told import Told

AHEAD: Final = 3
"""Chunks a worker that are handed out before their turn, so that none waits for the next."""
TRIES: Final = 2
"""How often a file is tried by itself after a worker died with it."""
LOOK_S: Final = 1.0
"""How often it is looked whether the pool itself still works."""
GRACE_S: Final = 10.0
"""How long each worker may take to end. None holds anything that could be lost."""

Chunk = Sequence[Task]
Outcomes = Future[list[Outcome]]


def usable_cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else (os.cpu_count() or 1)


def run_here(work: Work, chunks: Iterable[Chunk], workers: int) -> Iterator[list[Outcome]]:
    """Outcomes of each chunk, as they are done.

    A worker that dies (killed, or out of memory) is replaced, and what was under way is done again file by file; a
    file with which a worker dies each time is told as unreadable. Ctrl-C, or ending the iteration, ends the workers.
    Raises :class:`MemoryError` where there is too little to start them.
    """
    waiting = iter(chunks)
    running: dict[Outcomes, Chunk] = {}
    with _pool(workers) as pool:
        while True:
            for chunk in islice(waiting, workers * AHEAD - len(running)):
                running[pool.handed_out(work, chunk)] = chunk
            if not running:
                return
            done = pool.some(running)
            if any(isinstance(future.exception(), BrokenProcessPool) for future in done):
                # The whole pool is broken then, and every future of it is done.
                done, _ = wait(running)
                pool.end()
            for future in done:
                chunk = running.pop(future)
                if isinstance(future.exception(), BrokenProcessPool):
                    yield from _one_by_one(work, chunk)
                else:
                    yield future.result()


def _one_by_one(work: Work, chunk: Chunk) -> Iterator[list[Outcome]]:
    """Each file of a chunk by itself; one with which the worker dies is told, and the next gets a new worker."""
    with _pool(1) as pool:
        for task in chunk:
            for _ in range(TRIES):
                (future,) = pool.some([pool.handed_out(work, [task])])
                if not isinstance(future.exception(), BrokenProcessPool):
                    yield future.result()
                    break
                pool.end()
            else:
                reason = Told(
                    "A worker died on it {times} times: too large for this machine's memory, or it was ended.",
                    times=TRIES,
                )
                yield [Outcome(task.name, task.mark, None, reason=reason)]


class _Pool:
    """A pool that is started when there is work, and again after it was ended."""

    def __init__(self, workers: int) -> None:
        self._workers = workers
        self._pool: ProcessPoolExecutor | None = None
        self._others = frozenset(multiprocessing.active_children())
        self.failed: list[BaseException] = []
        """What ended a thread of the library, which then tells nobody: what was handed out never comes back."""

    def handed_out(self, work: Work, chunk: Chunk) -> Outcomes:
        """The future of a chunk; one that is broken already where a worker died meanwhile."""
        if self._pool is None:
            spawn = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(self._workers, mp_context=spawn, initializer=_be_a_worker)
        try:
            return self._pool.submit(run_chunk, work, chunk)
        except BrokenProcessPool as error:
            broken: Outcomes = Future()
            broken.set_exception(error)
            return broken
        except RuntimeError as error:
            # "can't start new thread": the library has no error of its own for it.
            raise MemoryError from error

    def some(self, running: Iterable[Outcomes]) -> set[Outcomes]:
        """What is done, as soon as something is."""
        running = list(running)
        while True:
            done, _ = wait(running, LOOK_S, FIRST_COMPLETED)
            if done:
                return done
            if self.failed:
                raise MemoryError from self.failed[0]

    def end(self, within_s: float = GRACE_S) -> None:
        """End the workers; one that cannot be told, or does not heed it in time, is killed."""
        if self._pool is None:
            return
        with suppress(RuntimeError, OSError):  # a pool that did not start, or cannot reach its workers
            self._pool.shutdown(wait=False, cancel_futures=True)
        for child in multiprocessing.active_children():
            if child in self._others:
                continue
            child.join(within_s)
            if child.is_alive():
                child.kill()
                child.join()
        self._pool = None


@contextmanager
def _pool(workers: int) -> Iterator[_Pool]:
    """A pool whose threads are watched, and which is ended."""
    pool, before = _Pool(workers), threading.excepthook

    def noticed(told: threading.ExceptHookArgs) -> None:
        pool.failed.append(told.exc_value or told.exc_type())

    threading.excepthook = noticed
    try:
        yield pool
    except BaseException as error:
        pool.end(0.0)
        # A worker that was started, and could not be told what to do, waits for that as long as a frame holds its pipe.
        clear_frames(error.__traceback__)
        raise
    else:
        pool.end()
    finally:
        threading.excepthook = before


def _be_a_worker() -> None:
    """Leave Ctrl-C, which reaches every process of a terminal, to the parent; and go when the parent is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_leave_after, args=(parent.sentinel,), daemon=True).start()


def _leave_after(sentinel: int) -> None:
    """End this process when another has ended: nobody could tell it to any more."""
    connection.wait([sentinel])
    os._exit(1)
