"""HTTP on the wire: what cannot be read as HTTP is answered with the protective headers too, and who dawdles is let go."""

import asyncio
from typing import Final

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from leanwright.web.headers import protective

_WORDS: Final = b"This request cannot be read."
PATIENCE: Final = 2.0
"""A request has to have begun within so many times the time that an idle connection is kept."""


class PlainProtocol(H11Protocol):
    """The server library's own protocol, but for its answer to what is no HTTP, and a time within which a request begins.

    Without that time a connection whose request is sent byte by byte is kept for ever, and enough of them take every place.
    """

    _waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as in the library
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait for nothing any more."""
        self._stop_waiting()
        super().connection_lost(exc)

    def handle_events(self) -> None:
        """Once a request has begun, its own times are watched elsewhere."""
        before = self.cycle
        super().handle_events()
        if self.cycle is not before:
            self._stop_waiting()

    def on_response_complete(self) -> None:
        """Begin to wait for the next request."""
        self._wait()
        super().on_response_complete()

    def _wait(self) -> None:
        self._stop_waiting()
        self._waiting = self.loop.call_later(PATIENCE * self.timeout_keep_alive, self.transport.abort)

    def _stop_waiting(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()

    def send_400_response(self, msg: str) -> None:  # noqa: ARG002  what the library would tell is told to nobody
        """Answer with 400 and close."""
        headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close"), *protective()]
        parts = (
            h11.Response(status_code=400, headers=headers, reason=b"Bad Request"),
            h11.Data(data=_WORDS),
            h11.EndOfMessage(),
        )
        for part in parts:
            self.transport.write(self.conn.send(part) or b"")
        self.transport.close()
