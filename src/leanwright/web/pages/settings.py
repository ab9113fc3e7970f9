"""How the owner likes it, and what is known of the engine while no book says it."""

from typing import Annotated, Literal

import msgspec
from starlette.responses import Response

from leanwright.engine.profile import FuelSystem, Numbering
from leanwright.web.show import go, page
from leanwright.web.visit import Form, Visit
from leanwright.workbench import preferences as preferences_of
from leanwright.workbench.preferences import Language, Look, Preferences


class SettingsForm(Form, frozen=True):
    """All settings at once; what is left empty is not known."""

    units: Literal["us", "metric"]
    language: Language
    look: Look
    numbering: Numbering | None = None
    cylinders: Annotated[int, msgspec.Meta(ge=2, le=18)] | None = None
    fuel_system: FuelSystem | None = None
    goal_gph: Annotated[float, msgspec.Meta(gt=0.0, le=20.0)] | None = None
    person: Annotated[str, msgspec.Meta(max_length=200)] = ""


def settings(visit: Visit) -> Response:
    """What is set."""
    saved = visit.query.get("saved") == "1"
    return page(visit, "settings.html.j2", title="Settings", liked=visit.preferences, saved=saved)


def change(visit: Visit, form: SettingsForm) -> Response:
    """Set it."""
    preferences_of.write(visit.house.desk.folder, Preferences(**msgspec.structs.asdict(form)))
    return go("/settings?saved=1", visit)


def leave(visit: Visit, _form: Form) -> Response:
    """End the session."""
    if visit.session is not None:
        visit.house.keys.end(visit.session)
    return page(visit, "left.html.j2", title="This session has ended.")
