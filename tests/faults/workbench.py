"""The workbench as a process of its own, on the loopback address, which a test can kill or stop."""

import os
import re
import subprocess
import sys
import urllib.parse
from dataclasses import dataclass
from pathlib import Path

from leanwright.web.bodies import FORM
from tests.web.wire import Heard, exchange

PROGRAM = (sys.executable, "-m", "leanwright")
BOOK = "book.sqlite"


@dataclass
class Workbench:
    """A running workbench, and a session of it."""

    process: "subprocess.Popen[str]"
    port: int
    cookie: str
    token: str

    def post(self, target: str, **fields: str) -> Heard:
        """Send a form as a page of ours would."""
        body = urllib.parse.urlencode({"token": self.token, **fields}).encode()
        return exchange(self.port, request(self.port, "POST", target, self.cookie, body))

    def signal(self, number: int) -> None:
        """Send a signal to the whole group of processes."""
        os.killpg(self.process.pid, number)

    def ended(self, within_s: float) -> int:
        """How it ended; the test's own error if it does not in this time."""
        self.process.communicate(timeout=within_s)
        return self.process.returncode


def started(folder: Path, program: tuple[str, ...] = PROGRAM) -> Workbench:
    """Start a workbench on any free port, and open its one-time address."""
    process = subprocess.Popen(
        [*program, "serve", "--no-browser", "--port", "0", "--book", str(folder / BOOK)],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL, text=True,
        start_new_session=True, env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    assert process.stdout is not None
    process.stdout.readline()
    address = process.stdout.readline().strip()
    port = int(address.split(":")[2].split("/")[0])
    opening = exchange(port, request(port, "GET", "/" + address.split("/", 3)[3]))
    cookie = opening.header("set-cookie").partition(";")[0]
    page = exchange(port, request(port, "GET", "/settings", cookie))
    token = re.search(r'name="token" value="([^"]+)"', page.text)
    assert token is not None
    return Workbench(process, port, cookie, token[1])


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
