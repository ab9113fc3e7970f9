"""One-time addresses and sessions: random, short-lived, kept only as digests, gone with the process."""

import hashlib
import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from leanwright.web.limits import LIMITS, Limits

TOKEN_BYTES: Final = 32
"""256 random bits."""


@dataclass(frozen=True, slots=True)
class Session:
    """One browser that opened a one-time address."""

    digest: str
    form_token: str
    """Stands in every form of this session's pages."""
    begun_s: float
    seen_s: float


class Keys:
    """The addresses that can still be opened, and the sessions that live.

    ``clock`` tells a time that never goes back [s], so that no change of the machine's clock lets a session live longer.
    """

    def __init__(self, limits: Limits = LIMITS, clock: Callable[[], float] = time.monotonic) -> None:
        self._limits = limits
        self._clock = clock
        self._links: dict[str, float] = {}
        self._sessions: dict[str, Session] = {}
        self._lock = threading.Lock()

    def new_link(self) -> str:
        """The token of a new one-time address; those whose time is over are forgotten."""
        token = secrets.token_urlsafe(TOKEN_BYTES)
        with self._lock:
            now = self._clock()
            self._links = {key: until for key, until in self._links.items() if until > now}
            self._links[_digest(token)] = now + self._limits.link_s
        return token

    def open_link(self, token: str) -> str | None:
        """Swap a one-time token for a session's secret; ``None`` if it was used, is too old, or never was."""
        with self._lock:
            now = self._clock()
            until = self._links.pop(_digest(token), None)
            if until is None or until <= now:
                return None
            secret = secrets.token_urlsafe(TOKEN_BYTES)
            digest = _digest(secret)
            self._forget_old(now)
            self._sessions[digest] = Session(digest, secrets.token_urlsafe(TOKEN_BYTES), now, now)
            return secret

    def session(self, secret: str) -> Session | None:
        """The session of a secret, if it lives; being asked for keeps it from falling idle."""
        digest = _digest(secret)
        with self._lock:
            now = self._clock()
            self._forget_old(now)
            found = self._sessions.get(digest)
            if found is not None:
                found = Session(digest, found.form_token, found.begun_s, now)
                self._sessions[digest] = found
            return found

    def end(self, session: Session) -> None:
        """End a session."""
        with self._lock:
            self._sessions.pop(session.digest, None)

    def _forget_old(self, now: float) -> None:
        limits = self._limits
        living = [
            one
            for one in self._sessions.values()
            if now - one.seen_s < limits.session_idle_s and now - one.begun_s < limits.session_s
        ]
        living.sort(key=lambda one: one.seen_s)
        self._sessions = {one.digest: one for one in living[-limits.sessions :]}


def same(given: str, wanted: str) -> bool:
    """Whether two secrets are the same, in a time that tells nothing of where they part."""
    return hmac.compare_digest(given.encode("utf-8", "surrogateescape"), wanted.encode())


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogateescape")).hexdigest()
