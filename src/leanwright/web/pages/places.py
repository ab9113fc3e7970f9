"""The engine from above beside a refusal: where this nozzle may go, and where you are."""

from typing import Any

from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.web.show import drawing
from leanwright.web.visit import Visit
from leanwright.workbench.positions import Allowed


def refused_place(visit: Visit, found: Allowed | None, here: int | None) -> dict[str, Any] | None:
    """The drawing with its key; nothing where no place is known."""
    from leanwright.report.phone_page import allowed_words, refusal_drawing

    if found is None or here not in found.profile.places:
        return None
    voice = Voice(load(visit.preferences.language), visit.preferences.units, found.profile)
    shown = refusal_drawing(found.profile, voice, here, found.cylinders)
    return {"drawing": drawing(shown), "key": allowed_words(found.cylinders, voice)}
