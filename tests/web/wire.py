"""A small client that speaks HTTP on the wire, so that a test can send what no well-behaved client would."""

import json
import socket
import urllib.parse
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Any, Protocol

from leanwright.web.run import Served

Headers = list[tuple[str, str]]


@dataclass(frozen=True)
class Heard:
    """What came back."""

    status: int
    headers: Headers
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")

    def header(self, name: str) -> str:
        return next((value for key, value in self.headers if key.lower() == name), "")


def exchange(port: int, request: bytes | Iterable[bytes], *, timeout: float = 20.0) -> Heard:
    """Send bytes, and read one answer to its end."""
    parts = [request] if isinstance(request, bytes) else request
    with socket.create_connection(("127.0.0.1", port), timeout=timeout) as wire:
        try:
            for part in parts:
                wire.sendall(part)
        except (BrokenPipeError, ConnectionResetError):
            pass  # the server said no before everything was sent; its answer is read below
        return heard(wire)


def heard(wire: socket.socket) -> Heard:
    data = b""
    while b"\r\n\r\n" not in data:
        try:
            block = wire.recv(65536)
        except ConnectionResetError:
            break
        if not block:
            break
        data += block
    head, _, body = data.partition(b"\r\n\r\n")
    lines = head.decode("latin-1").split("\r\n")
    if not lines[0]:
        return Heard(0, [], b"")
    headers = [(name, value.strip()) for name, _, value in (line.partition(":") for line in lines[1:])]
    answer = Heard(int(lines[0].split()[1]), headers, body)
    told = answer.header("content-length")
    while told and len(body) < int(told):
        block = wire.recv(65536)
        if not block:
            break
        body += block
    return Heard(answer.status, headers, body)


@dataclass(frozen=True)
class Browser:
    """A browser that opened the one-time address of a server."""

    served: Served
    secret: str
    token: str

    @property
    def port(self) -> int:
        return self.served.house.place.port

    @property
    def cookie(self) -> str:
        return f"{self.served.house.place.cookie}={self.secret}"

    def ask(
        self,
        method: str,
        target: str,
        headers: Mapping[str, str | None] | None = None,
        body: bytes = b"",
        *,
        doubled: Headers | None = None,
    ) -> Heard:
        """Send a request as a browser on our own page would; a header that is ``None`` is left out."""
        return exchange(self.port, self.request(method, target, headers, body, doubled=doubled))

    def request(
        self,
        method: str,
        target: str,
        headers: Mapping[str, str | None] | None = None,
        body: bytes = b"",
        *,
        doubled: Headers | None = None,
    ) -> bytes:
        """The bytes of such a request."""
        sent: dict[str, str | None] = {
            "Host": f"127.0.0.1:{self.port}",
            "Cookie": self.cookie,
            "Sec-Fetch-Site": "same-origin",
            "Connection": "close",
        }
        if body or method == "POST":
            sent["Content-Length"] = str(len(body))
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        sent.update(headers or {})
        lines = [f"{method} {target} HTTP/1.1"]
        lines += [
            f"{name}: {value}" for name, value in [*sent.items(), *(doubled or [])] if value is not None
        ]
        return "\r\n".join([*lines, "", ""]).encode("latin-1") + body

    def get(self, target: str) -> Heard:
        return self.ask("GET", target)

    def post(self, target: str, **fields: Any) -> Heard:
        return self.ask("POST", target, body=self.form(**fields))

    def form(self, **fields: Any) -> bytes:
        return urllib.parse.urlencode({"token": self.token, **fields}, doseq=True).encode()

    def drop(self, *files: tuple[str, bytes], script: bool = True) -> Heard:
        """Drop files on the page."""
        kind, body = multipart(self.token, files)
        more = {"Accept": "application/json"} if script else {}
        return self.ask("POST", "/recordings", {"Content-Type": kind, **more}, body)

    def go(self, answer: Heard) -> str:
        """Where an answer to a script leads."""
        return str(json.loads(answer.body)["go"])


class Asks(Protocol):
    """As :meth:`Browser.ask`."""

    def __call__(
        self, method: str, target: str, headers: Mapping[str, str | None] | None = None, body: bytes = b""
    ) -> Heard:
        """Send a request."""


@contextmanager
def kept(browser: Browser) -> Iterator[Asks]:
    """Send many requests over one connection, which takes a third less time; over a new one where the server closed it."""
    with ExitStack() as wires:

        def connected() -> socket.socket:
            return wires.enter_context(socket.create_connection(("127.0.0.1", browser.port), timeout=20.0))

        wire = connected()

        def ask(
            method: str, target: str, headers: Mapping[str, str | None] | None = None, body: bytes = b""
        ) -> Heard:
            nonlocal wire
            wire.sendall(browser.request(method, target, {"Connection": None, **(headers or {})}, body))
            answer = heard(wire)
            if answer.header("connection") == "close":
                wires.close()
                wire = connected()
            return answer

        yield ask


def multipart(token: str, files: Iterable[tuple[str, bytes]], **fields: str) -> tuple[str, bytes]:
    mark = "----0123456789abcdef"
    parts = [
        f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in {"token": token, **fields}.items()
    ]
    for name, content in files:
        safe = name.replace('"', "%22").replace("\r", "%0D").replace("\n", "%0A")
        head = f'--{mark}\r\nContent-Disposition: form-data; name="files"; filename="{safe}"\r\nContent-Type: text/csv\r\n\r\n'
        parts.append(head.encode("utf-8", "surrogatepass") + content + b"\r\n")
    parts.append(f"--{mark}--\r\n".encode())
    return f"multipart/form-data; boundary={mark}", b"".join(parts)
