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
        self._taken = False

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait for one's turn, and hand on afterwards."""
        mine = threading.Lock()
        with self._guard:
            must_wait = self._taken
            self._taken = True
            if must_wait:
                mine.acquire()
                self._waiting.append(mine)
        if must_wait:
            mine.acquire()
        try:
            yield
        finally:
            with self._guard:
                if self._waiting:
                    self._waiting.popleft().release()
                else:
                    self._taken = False
