"""One request that passed the guard, as the pages see it; and the table's rows: what is asked how, and who answers."""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import msgspec
from starlette.datastructures import QueryParams
from starlette.responses import Response

from leanwright.told import Told
from leanwright.web import refusal
from leanwright.web.bodies import Sent
from leanwright.web.house import House
from leanwright.web.keys import Session
from leanwright.web.refusal import Refusal, RefusedError
from leanwright.workbench import preferences as preferences_of
from leanwright.workbench.preferences import Preferences


@dataclass(frozen=True, slots=True)
class Visit:
    """Who asks for what."""

    house: House
    session: Session | None
    path: dict[str, str]
    query: QueryParams
    script: bool = False
    """Whether a script of ours asks, and takes JSON."""
    sent: Sent = field(default_factory=lambda: Sent(()))

    @property
    def preferences(self) -> Preferences:
        """How the owner likes it."""
        return preferences_of.read(self.house.desk.folder)

    @property
    def token(self) -> str:
        """What every form of this session has to carry."""
        return self.session.form_token if self.session else ""


class Form(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What a form may hold; a field that is not known is refused."""


Answer = Response | Awaitable[Response]


@dataclass(frozen=True, slots=True)
class Entry:
    """One address: who answers it, and what a form sent to it may hold. ``example`` fills its path in the tests."""

    path: str
    get: Callable[[Visit], Answer] | None = None
    post: Callable[[Visit, Any], Answer] | None = None
    form: type[Form] = Form
    uploads: bool = False
    example: dict[str, str] = field(default_factory=dict)


def form_of(kind: type[Form], sent: Sent) -> Form:
    """The fields of a form, checked against what it may hold; what was left empty counts as not given."""
    known = {one.name: one for one in msgspec.structs.fields(kind)}
    values: dict[str, Any] = {}
    for name, value in sent.fields:
        if name == "token":
            continue
        if name in known and _several(known[name]):
            values.setdefault(name, []).append(value)
        elif name in values:
            raise RefusedError(refusal.FORM)
        elif value.strip() or (name in known and known[name].required):
            values[name] = value.strip()
        elif name not in known:
            values[name] = value
    try:
        return msgspec.convert(values, kind, strict=False)
    except msgspec.ValidationError as error:
        raise RefusedError(unusable(Told("A field of the form does not take what was sent"))) from error


def unusable(why: str) -> Refusal:
    """What was typed cannot be used; why."""
    return Refusal(
        422,
        Told("This cannot be used, so nothing was done."),
        Told("{why}. Go back and put it right.", why=why if isinstance(why, Told) else why.rstrip(".")),
    )


def not_found(what: str) -> RefusedError:
    """Something that is named is not here."""
    return RefusedError(
        Refusal(404, Told("{what} is not here (any more).", what=what), Told("Go to the start page."))
    )


def chosen(values: Sequence[str], allowed: Sequence[str]) -> list[str]:
    """Those that are allowed, each once, in the order given."""
    return [value for value in dict.fromkeys(values) if value in allowed]


def _several(one: msgspec.structs.FieldInfo) -> bool:
    return getattr(one.type, "__origin__", None) is tuple
