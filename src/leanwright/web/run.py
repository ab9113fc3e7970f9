"""Start a server: bind the loopback address, make its parts, answer until it is told to stop."""

import errno
import secrets
import socket
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from math import ceil
from pathlib import Path
from typing import Final

import uvicorn

from leanwright.web.app import OPEN, make_app
from leanwright.web.guard import Place
from leanwright.web.house import House
from leanwright.web.imports import Imports
from leanwright.web.keys import Keys
from leanwright.web.limits import LIMITS, Limits
from leanwright.web.log import close_log, error_number, open_log, tell, tell_fault
from leanwright.web.pages.incoming import keep
from leanwright.web.protocol import PlainProtocol
from leanwright.workbench.desk import open_desk
from leanwright.workbench.desk_answers import Answers
from leanwright.workbench.desk_watch import Watches
from leanwright.workbench.open_book import OpenBook
from leanwright.workbench.opening import memory_place

LOOPBACK: Final = "127.0.0.1"
LOOPBACK_6: Final = "::1"
BACKLOG: Final = 128


@dataclass(frozen=True, slots=True)
class Served:
    """A server that is ready: its parts, its socket, and the library's server."""

    house: House
    server: uvicorn.Server
    listening: tuple[socket.socket, ...]

    def new_address(self) -> str:
        """A one-time address to open, good for a minute."""
        return f"http://{LOOPBACK}:{self.house.place.port}{OPEN}{self.house.keys.new_link()}"

    def run(self) -> None:
        """Answer until it is told to stop."""
        tell(self.house.log, "started", port=self.house.place.port)
        try:
            self.server.run(sockets=list(self.listening))
        finally:
            tell(self.house.log, "stopped")
            self.house.book.close()
            close_log(self.house.log)


def prepare(
    port: int,
    book: str,
    folder: Path,
    *,
    memory: Path | None = None,
    limits: Limits = LIMITS,
    now: Callable[[], datetime] = datetime.now,
) -> Served:
    """Bind the loopback address (0 takes any free port) and make the parts of a server.

    Raises ``OSError`` where the port is taken.
    """
    listening = _listen(port)
    bound = int(listening[0].getsockname()[1])
    try:
        desk = open_desk(folder)
        log = open_log(folder / "log")
    except BaseException:
        for one in listening:
            one.close()
        raise
    opened = OpenBook(book)
    house = House(
        Place(bound, f"leanwright-{secrets.token_hex(4)}"),
        Keys(limits),
        desk,
        Answers(desk),
        Imports(
            lambda item, readings: keep(desk, opened, now(), item, list(readings)),
            note=partial(tell, log),
            fault=lambda error: tell_fault(log, error_number(), error),
            limits=limits,
        ),
        Watches(desk),
        opened,
        memory or memory_place(),
        log,
        limits,
    )
    settings = uvicorn.Config(
        make_app(house), http=PlainProtocol, ws="none", lifespan="on", log_config=None, access_log=False, server_header=False,
        proxy_headers=False, h11_max_incomplete_event_size=limits.header_bytes + limits.target_bytes,
        timeout_keep_alive=ceil(limits.idle_s), timeout_graceful_shutdown=8, backlog=BACKLOG,
    )  # fmt: skip
    return Served(house, uvicorn.Server(settings), listening)


def _listen(port: int) -> tuple[socket.socket, ...]:
    """Sockets on both loopback addresses, as far as this machine has them; never on any other."""
    first = _bound(socket.AF_INET, LOOPBACK, port)
    try:
        return first, _bound(socket.AF_INET6, LOOPBACK_6, int(first.getsockname()[1]))
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            first.close()
            raise
        return (first,)  # there is no IPv6 here


def _bound(family: socket.AddressFamily, address: str, port: int) -> socket.socket:
    # The protocol is named, or asyncio does not know the socket as one whose answers go out at once: on a connection that is
    # kept, the second part of each then waits 40 ms for the other side to confirm the first.
    made = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            made.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        made.bind((address, port))
        made.listen(BACKLOG)
    except BaseException:
        made.close()
        raise
    return made
