"""The workbench as a process of its own, on the loopback address, which a test can kill or stop.

It is started as anybody starts it, or forked from a process that has loaded the program already: that takes a tenth of the
time, so that a test can kill it often.
"""

import multiprocessing
import os
import re
import subprocess
import sys
import urllib.parse
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from leanwright.cli.start import run
from leanwright.web.bodies import FORM
from tests.web.wire import Heard, exchange, multipart

PROGRAM = (sys.executable, "-m", "leanwright")
BOOK = "book.sqlite"


@dataclass
class Workbench:
    """A running workbench, and a session of it."""

    pid: int
    ended: Callable[[float], object]
    """Waits for its end; the test's own error if it does not come within so many seconds."""
    port: int
    cookie: str
    token: str

    def post(self, target: str, **fields: str) -> Heard:
        """Send a form as a page of ours would."""
        body = urllib.parse.urlencode({"token": self.token, **fields}).encode()
        return exchange(self.port, request(self.port, "POST", target, self.cookie, body))

    def get(self, target: str) -> Heard:
        """Ask for a page."""
        return exchange(self.port, request(self.port, "GET", target, self.cookie))

    def bring(self, content: bytes) -> Heard:
        """Bring a recording, as dropping it on the page does."""
        kind, body = multipart(self.token, [("flight.csv", content)])
        return exchange(self.port, request(self.port, "POST", "/recordings", self.cookie, body, kind))

    def signal(self, number: int) -> None:
        """Send a signal to the whole group of processes."""
        os.killpg(self.pid, number)


def command(folder: Path) -> list[str]:
    """The command that serves the book of a folder on any free port."""
    return ["serve", "--no-browser", "--port", "0", "--book", str(folder / BOOK)]


def started(folder: Path, program: tuple[str, ...] = PROGRAM) -> Workbench:
    """Start a workbench."""
    process = subprocess.Popen(
        [*program, *command(folder)],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL, text=True,
        start_new_session=True, env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    assert process.stdout is not None
    process.stdout.readline()
    return opened(
        process.stdout.readline(), process.pid, lambda within_s: process.communicate(timeout=within_s)
    )


def forked(folder: Path) -> Workbench:
    """Fork a workbench from a process that has loaded the program."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["leanwright.cli.main", "leanwright.web.run", __name__])
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=serve, args=(folder, there), daemon=True)
    process.start()
    there.close()
    with open(here.fileno(), encoding="utf-8", closefd=False) as told:
        told.readline()
        address = told.readline()

    def ended(within_s: float) -> None:
        process.join(within_s)
        assert process.exitcode is not None
        here.close()

    assert process.pid is not None
    return opened(address, process.pid, ended)


def serve(folder: Path, told: Connection) -> None:
    """Be a workbench: what it prints goes to whoever forked it."""
    os.setsid()
    os.dup2(told.fileno(), sys.stdout.fileno())
    sys.argv = ["leanwright", *command(folder)]
    run()


def opened(address: str, pid: int, ended: Callable[[float], object]) -> Workbench:
    """A workbench whose one-time address was opened."""
    address = address.strip()
    port = int(address.split(":")[2].split("/")[0])
    opening = exchange(port, request(port, "GET", "/" + address.split("/", 3)[3]))
    cookie = opening.header("set-cookie").partition(";")[0]
    page = exchange(port, request(port, "GET", "/settings", cookie))
    token = re.search(r'name="token" value="([^"]+)"', page.text)
    assert token is not None
    return Workbench(pid, ended, port, cookie, token[1])


def request(
    port: int, method: str, target: str, cookie: str = "", body: bytes = b"", kind: str = FORM
) -> bytes:
    """A request as a browser on our own page would send it."""
    lines = [
        f"{method} {target} HTTP/1.1", f"Host: 127.0.0.1:{port}", "Sec-Fetch-Site: same-origin", "Connection: close",
        *([f"Cookie: {cookie}"] if cookie else []),
        *([f"Content-Type: {kind}", f"Content-Length: {len(body)}"] if method == "POST" else []),
    ]  # fmt: skip
    return "\r\n".join([*lines, "", ""]).encode("latin-1") + body
