"""Who waits first is served first: the queue of writers inside one process."""

import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager


class FairQueue:
    """A lock that is handed on in the order in which it was asked for."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._waiting: deque[threading.Lock] = deque()
        """The first of them has its turn; each is locked until it comes first."""

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait for one's turn, and hand on afterwards; whatever fails on the way leaves nobody waiting."""
        mine = threading.Lock()
        mine.acquire()
        try:
            with self._guard:
                self._waiting.append(mine)
                is_first = self._waiting[0] is mine
            if not is_first:
                mine.acquire()
            yield
        finally:
            with self._guard:
                self._leave(mine)

    def _leave(self, mine: threading.Lock) -> None:
        if mine not in self._waiting:
            return
        had_turn = self._waiting[0] is mine
        self._waiting.remove(mine)
        if had_turn and self._waiting:
            self._waiting[0].release()
