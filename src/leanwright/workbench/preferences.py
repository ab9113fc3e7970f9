"""How the owner likes it: units, language, look, and what is known of the engine while no book says it."""

from pathlib import Path
from typing import Annotated, Final, Literal

import msgspec

from leanwright.engine.profile import FuelSystem, Numbering
from leanwright.workbench.writing import write_whole

NAME: Final = "preferences.json"
Language = Literal["en", "de", "fr", "es", "it", "pt"]
Look = Literal["system", "light", "dark", "sun"]


class Preferences(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The one place where these are set; goal in US gal/h, price for one US gallon."""

    units: Literal["us", "metric"] = "us"
    language: Language = "en"
    look: Look = "system"
    numbering: Numbering | None = None
    cylinders: Annotated[int, msgspec.Meta(ge=2, le=18)] | None = None
    fuel_system: FuelSystem | None = None
    goal_gph: Annotated[float, msgspec.Meta(gt=0.0, le=20.0)] | None = None
    fuel_price: Annotated[float, msgspec.Meta(ge=0.0, le=1e6)] | None = None
    hours_per_year: Annotated[float, msgspec.Meta(ge=0.0, le=8760.0)] | None = None
    currency: Annotated[str, msgspec.Meta(max_length=10)] = ""
    folders: tuple[Annotated[str, msgspec.Meta(max_length=1000)], ...] = ()
    """Folders in which new recordings are looked for."""
    person: Annotated[str, msgspec.Meta(max_length=200)] = ""


def read(folder: Path) -> Preferences:
    """What was set; the defaults where nothing was, or where it cannot be read."""
    try:
        return msgspec.json.decode((folder / NAME).read_bytes(), type=Preferences)
    except (OSError, msgspec.DecodeError):
        return Preferences()


def write(folder: Path, preferences: Preferences) -> None:
    """Keep what is set."""
    write_whole(folder / NAME, msgspec.json.encode(preferences))
