"""What every request has to pass, in this order, before a page sees it: fixed files and errors pass the same way.

Size and syntax; host; forwarded headers dropped; method; where it was sent from; session. A step that is missing says no.
"""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from leanwright.web import refusal
from leanwright.web.headers import protective
from leanwright.web.keys import Keys, Session
from leanwright.web.limits import LIMITS, Limits
from leanwright.web.refusal import Refusal, RefusedError

Headers = list[tuple[bytes, bytes]]
ShowRefusal = Callable[[Refusal, Session | None], ASGIApp]
METHODS: Final = ("GET", "HEAD", "POST")
CHANGING: Final = ("POST",)
FORWARDED: Final = frozenset(
    {
        b"forwarded", b"via", b"x-real-ip", b"x-client-ip", b"x-original-url", b"x-rewrite-url", b"x-original-host", b"x-host",
        b"x-http-method", b"x-http-method-override", b"x-method-override",
    }
)  # fmt: skip
"""Headers by which a proxy or a client would say otherwise than the request does; nobody is believed."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where this server is: its port, and the cookie that is its own (ports share cookies)."""

    port: int
    cookie: str

    @property
    def hosts(self) -> frozenset[str]:
        """The exact hosts that it answers to."""
        return frozenset(f"{name}:{self.port}" for name in ("127.0.0.1", "localhost", "[::1]"))

    @property
    def origins(self) -> frozenset[str]:
        """The origins of its own pages."""
        return frozenset(f"http://{host}" for host in self.hosts)


class Guard:
    """Stands before the pages. ``open_paths`` begin the addresses that need no session, ``show`` words a refusal."""

    def __init__(
        self,
        app: ASGIApp,
        place: Place,
        keys: Keys,
        show: ShowRefusal,
        open_path: str,
        limits: Limits = LIMITS,
    ) -> None:
        self.app = app
        self.place = place
        self._keys = keys
        self._show = show
        self._open_path = open_path
        self._limits = limits
        self._busy: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request pass, or answer with what is wrong."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        guarded = _with_headers(send)
        session: Session | None = None
        try:
            scope = self._check(scope)
            session = self._session(scope)
            await self._pass(scope, receive, guarded, session)
        except RefusedError as refused:
            await self._show(refused.refusal, session)(scope, receive, guarded)

    async def _pass(self, scope: Scope, receive: Receive, send: Send, session: Session | None) -> None:
        mine = session.digest if session else ""
        if self._busy.total() >= self._limits.at_once or self._busy[mine] >= self._limits.at_once_of_one:
            raise RefusedError(refusal.BUSY)
        self._busy[mine] += 1
        try:
            await self.app({**scope, "session_of": session}, receive, send)
        finally:
            self._busy[mine] -= 1
            if not self._busy[mine]:
                del self._busy[mine]

    def _check(self, scope: Scope) -> Scope:
        """All steps before the session; returns what is believed of the request."""
        headers: Headers = scope["headers"]
        _check_size(scope, headers, self._limits)
        _check_syntax(scope, headers)
        if _values(headers, b"host") not in [[host] for host in self.place.hosts]:
            raise RefusedError(refusal.HOST)
        believed = [(name, value) for name, value in headers if not _forwarded(name)]
        if scope["method"] not in METHODS:
            raise RefusedError(refusal.METHOD)
        if scope["method"] in CHANGING and not _own_page(believed, self.place.origins):
            raise RefusedError(refusal.ELSEWHERE)
        return {**scope, "headers": believed}

    def _session(self, scope: Scope) -> Session | None:
        found = self._keys.session(secret) if (secret := self._secret(scope["headers"])) else None
        opens = scope["path"].startswith(self._open_path) and scope["method"] == "GET"
        if found is None and not opens:
            raise RefusedError(refusal.NO_SESSION)
        return found

    def _secret(self, headers: Headers) -> str:
        given = _values(headers, b"cookie")
        if len(given) != 1:
            return ""
        try:
            cookie = SimpleCookie(given[0]).get(self.place.cookie)
        except CookieError:
            return ""
        return cookie.value if cookie else ""


def _check_size(scope: Scope, headers: Headers, limits: Limits) -> None:
    if len(scope["raw_path"]) + len(scope["query_string"]) > limits.target_bytes:
        raise RefusedError(refusal.TARGET_TOO_LONG)
    size = sum(len(name) + len(value) for name, value in headers)
    if len(headers) > limits.headers or size > limits.header_bytes:
        raise RefusedError(refusal.HEADERS_TOO_BIG)


def _check_syntax(scope: Scope, headers: Headers) -> None:
    """A plain path of our own, one of each header that must not be doubled, and nothing packed."""
    path = scope["raw_path"]
    odd = not path.startswith(b"/") or path.startswith(b"//") or any(sign in path for sign in (b"\\", b"\0"))
    odd |= any(ord(letter) < 0x20 for letter in scope["path"])
    doubled = any(
        len(_values(headers, name)) > 1 for name in (b"host", b"content-length", b"content-type", b"origin")
    )
    if odd or doubled:
        raise RefusedError(refusal.SYNTAX)
    if _values(headers, b"content-encoding") not in ([], ["identity"]):
        raise RefusedError(refusal.KIND)


def _own_page(headers: Headers, origins: Iterable[str]) -> bool:
    """Whether a change was asked for by a page of ours.

    What the browser says of the site decides; a browser that says nothing has to name our origin; without either only
    a request that brings no cookie goes on, and that has no session.
    """
    site = _values(headers, b"sec-fetch-site")
    origin = _values(headers, b"origin")
    if site:
        # With our referrer policy a form of ours names the origin "null"; a foreign one is never believed.
        return site == ["same-origin"] and (origin in ([], ["null"]) or origin[0] in origins)
    if origin:
        return origin[0] in origins
    return not _values(headers, b"cookie")


def _forwarded(name: bytes) -> bool:
    return name in FORWARDED or name.startswith(b"x-forwarded")


def _values(headers: Headers, name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in headers if key == name]


def _with_headers(send: Send) -> Send:
    """Every answer carries the protective headers, whoever made it; an answer may bring a stricter policy."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = [(name.lower(), value) for name, value in message["headers"]]
            names = {name for name, _ in own}
            added = [(name, value) for name, value in protective() if name not in names]
            message = {**message, "headers": [*own, *added]}
        await send(message)

    return sending
