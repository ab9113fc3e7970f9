"""How the owner likes it, and what is known of the engine while no book says it."""

import re
from typing import Annotated, Any, Final, Literal

import msgspec
from starlette.responses import Response

from leanwright.engine.profile import FuelSystem, Numbering
from leanwright.told import Told
from leanwright.web.show import go, page
from leanwright.web.visit import Form, Visit
from leanwright.workbench import preferences as preferences_of
from leanwright.workbench.folders import usable
from leanwright.workbench.preferences import Language, Look, Preferences

_BOUND: Final = re.compile(r"(?P<sign>[<>]=?) (?P<number>-?[0-9.e+]+)$")
NUMBERS: Final = ("cylinders", "goal_gph", "fuel_price", "hours_per_year")
Typed = Annotated[str, msgspec.Meta(max_length=200)]


class SettingsForm(Form, frozen=True):
    """All settings at once; what is left empty is not known. Numbers come as they were typed."""

    units: Literal["us", "metric"]
    language: Language
    look: Look
    numbering: Numbering | None = None
    fuel_system: FuelSystem | None = None
    cylinders: Typed = ""
    goal_gph: Typed = ""
    fuel_price: Typed = ""
    hours_per_year: Typed = ""
    currency: Typed = ""
    person: Typed = ""
    folders: Annotated[str, msgspec.Meta(max_length=20_000)] = ""


def settings(visit: Visit) -> Response:
    """What is set."""
    liked = visit.preferences
    plain = msgspec.to_builtins(liked)
    typed = {name: "" if value is None else str(value) for name, value in plain.items()}
    return _shown(
        visit, typed | {"folders": "\n".join(liked.folders)}, {}, saved=visit.query.get("saved") == "1"
    )


def change(visit: Visit, form: SettingsForm) -> Response:
    """Set it; what cannot be used is told beside its field, and nothing is set."""
    typed = {name: value or "" for name, value in msgspec.structs.asdict(form).items()}
    wrong: dict[str, str] = {}
    values: dict[str, Any] = {name: value or None for name, value in typed.items()}
    for name in NUMBERS:
        values[name] = _number(name, typed[name], wrong)
    values["folders"] = [line.strip() for line in form.folders.splitlines() if line.strip()]
    for folder in values["folders"]:
        if not usable(folder):
            wrong["folders"] = Told(
                "“{folder}” is no folder of this machine, named from its root.", folder=folder[:200]
            )
    values |= {"currency": form.currency, "person": form.person}
    if not wrong:
        try:
            liked = msgspec.convert(values, Preferences)
        except msgspec.ValidationError as error:
            name = str(error).rpartition("$.")[2].rstrip("`").partition("[")[0]
            wrong[name] = _refused(typed.get(name, ""), str(error).partition(" - at")[0])
    if wrong:
        return _shown(visit, typed, wrong)
    preferences_of.write(visit.house.desk.folder, liked)
    return go("/settings?saved=1", visit)


def _refused(text: str, message: str) -> Told:
    """That a value cannot be used, and the limit that it breaks, as the library's message names it."""
    bound = _BOUND.search(message)
    if bound is None:
        return Told("“{text}” cannot be used here.", text=text[:40])
    number = bound["number"].removesuffix(".0")
    takes = {
        ">=": Told("at least {number}", number=number),
        "<=": Told("at most {number}", number=number),
        ">": Told("more than {number}", number=number),
        "<": Told("less than {number}", number=number),
    }[bound["sign"]]
    return Told("“{text}” cannot be used here: it takes {takes}.", text=text[:40], takes=takes)


def _number(name: str, text: str, wrong: dict[str, str]) -> float | int | None:
    if not text:
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        wrong[name] = Told("“{text}” is no number.", text=text[:40])
        return None
    return int(value) if name == "cylinders" and value.is_integer() else value


def _shown(visit: Visit, typed: dict[str, str], wrong: dict[str, str], *, saved: bool = False) -> Response:
    return page(
        visit, "settings.html.j2", title=Told("Settings"), liked=typed, wrong=wrong, saved=saved, code=422 if wrong else 200
    )  # fmt: skip


def leave(visit: Visit, _form: Form) -> Response:
    """End the session."""
    if visit.session is not None:
        visit.house.keys.end(visit.session)
    return page(visit, "left.html.j2", title=Told("This session has ended."))
