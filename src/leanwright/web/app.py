"""The application: the guard, behind it the table of addresses, around it the answers to what goes wrong."""

import inspect
from collections.abc import AsyncGenerator, Awaitable, Callable, Sequence
from contextlib import asynccontextmanager
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route, Router
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from leanwright import errors
from leanwright.told import Told
from leanwright.web import refusal, show
from leanwright.web.bodies import Sent, sent
from leanwright.web.guard import Guard
from leanwright.web.house import House
from leanwright.web.keys import Session, same
from leanwright.web.log import error_number, tell, tell_fault
from leanwright.web.refusal import Refusal, RefusedError
from leanwright.web.table import TABLE
from leanwright.web.visit import Entry, Visit, form_of

OPEN: Final = "/open/"
"""Where a one-time address is opened: the only addresses without a session."""
TOLD: Final = (
    errors.UnreadableRecordingError, errors.UnusableCorrectionError, errors.UnusableSweepError, errors.UnusableFileError,
    errors.RefusedEntryError, errors.BusyBookError, errors.UnusablePowerError,
)  # fmt: skip
"""Errors whose sentence is for the user. Others may name a place of this machine, and go to the log."""
KEPT_FROM: Final = {
    errors.UnwritablePlaceError: Told(
        "This cannot be saved: the disk is full, or its folder may not be written."
    ),
    errors.UnwritableBookError: Told(
        "The book can be read but not written: the disk is full, or it may not be written."
    ),
    errors.DamagedBookError: Told(
        "The book is not what was written. Nothing is saved in it any more; what is sound can be read."
    ),
    errors.UnusableBookError: Told("The book cannot be used."),
    errors.UnusableBackupError: Told("This backup is not what was written. Nothing was restored from it."),
}
"""The sentence instead, of those that name a place."""


def make_app(house: House, table: Sequence[Entry] = TABLE) -> Guard:
    """The application of one server."""
    routes = [Route(one.path, _endpoint(one, house), methods=_methods(one)) for one in table]
    routes.append(Route(OPEN + "{token}", _opener(house), methods=["GET"]))

    @asynccontextmanager
    async def alive(_app: object) -> AsyncGenerator[None]:
        await house.imports.warm()
        yield
        await house.imports.close()

    # The bare router: the library's own error pages would answer before ours.
    app = Router(routes, redirect_slashes=False, lifespan=alive)
    return Guard(
        _caught(app, house),
        house.place,
        house.keys,
        lambda what, session: _refused(what, session, house),
        OPEN,
        house.limits,
    )


def _methods(entry: Entry) -> list[str]:
    return [*(["GET"] if entry.get else []), *(["POST"] if entry.post else [])]


def _endpoint(entry: Entry, house: House) -> Callable[[Request], Awaitable[Response]]:
    async def answer(request: Request) -> Response:
        session: Session | None = request.scope["session_of"]
        script = request.headers.get("accept", "") == "application/json"
        path = {name: str(value) for name, value in request.path_params.items()}
        visit = Visit(house, session, path, request.query_params, script)
        if request.method != "POST":
            assert entry.get is not None  # noqa: S101  the route knows its methods
            return await _called(entry.get, visit)
        async with sent(request, uploads=entry.uploads, limits=house.limits) as body:
            _check_token(request, body, session)
            visit = Visit(house, session, path, request.query_params, script, body)
            assert entry.post is not None  # noqa: S101  the same
            return await _called(entry.post, visit, form_of(entry.form, body))

    return answer


async def _called(handler: Callable[..., Response | Awaitable[Response]], *arguments: object) -> Response:
    """Pages work in threads, so that one that takes long keeps nobody else waiting."""
    if inspect.iscoroutinefunction(handler):
        answered = await handler(*arguments)
    else:
        answered = await run_in_threadpool(handler, *arguments)
    assert isinstance(answered, Response)  # noqa: S101  a programmer's mistake, not a user's
    return answered


def _check_token(request: Request, body: Sent, session: Session | None) -> None:
    """Every change carries its session's token, in a field of the form or in a header."""
    given = request.headers.get("x-token") or body.first("token")
    if session is None or not same(given, session.form_token):
        raise RefusedError(refusal.ELSEWHERE)


def _opener(house: House) -> Callable[[Request], Awaitable[Response]]:
    async def opened(request: Request) -> Response:
        secret = house.keys.open_link(request.path_params["token"]) if request.method == "GET" else None
        if secret is None:
            tell(house.log, "a one-time address was refused")
            raise RefusedError(refusal.USED_LINK)
        tell(house.log, "a session began")
        answer = RedirectResponse("/", 303)
        answer.set_cookie(house.place.cookie, secret, path="/", httponly=True, samesite="strict")
        return answer

    return opened


def _caught(app: Router, house: House) -> ASGIApp:
    """The application, whose every error becomes a refusal before anything of it is seen."""

    async def careful(scope: Scope, receive: Receive, send: Send) -> None:
        begun = False

        async def sending(message: Message) -> None:
            nonlocal begun
            begun = True
            await send(message)

        if scope["type"] != "http":
            await app(scope, receive, send)
            return
        try:
            # With an application named the router raises where it finds nothing, and does not answer itself.
            await app({**scope, "app": app}, receive, sending)
        except Exception as error:
            if begun:
                raise
            raise RefusedError(_of_error(error, scope, house)) from error

    return careful


def _of_error(error: Exception, scope: Scope, house: House) -> Refusal:
    if isinstance(error, RefusedError):
        return error.refusal
    if isinstance(error, HTTPException):
        return {404: refusal.NOT_FOUND, 405: refusal.METHOD}.get(error.status_code, refusal.SYNTAX)
    if isinstance(error, TOLD):
        return Refusal(422, error.said, Told("Nothing was done."))
    number = error_number()
    tell_fault(house.log, number, error, path=str(scope["path"])[:200])
    for kind, words in KEPT_FROM.items():
        if isinstance(error, kind):
            return Refusal(
                503, words, Told("The log holds the details under {number}.", number=number), number
            )
    return refusal.at_fault(number)


def _refused(what: Refusal, session: Session | None, house: House) -> ASGIApp:
    async def answer(scope: Scope, receive: Receive, send: Send) -> None:
        request = Request(scope)
        script = request.headers.get("accept", "") == "application/json"
        visit = Visit(house, session, {}, request.query_params) if session else None
        if what.status in {403, 421}:
            tell(house.log, "a request was refused", status=what.status, path=str(scope["path"])[:200])
        response = await run_in_threadpool(show.refused, what, visit, script=script)
        await response(scope, receive, send)

    return answer
