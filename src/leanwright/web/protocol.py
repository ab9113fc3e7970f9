"""HTTP on the wire: what cannot be read as HTTP at all is answered with the protective headers too."""

from typing import Final

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from leanwright.web.headers import protective

_WORDS: Final = b"This request cannot be read."


class PlainProtocol(H11Protocol):
    """The server library's own protocol, but for its answer to what is no HTTP."""

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
