"""What meters the fuel of an engine, as its recordings state it."""

import re
from collections.abc import Sequence
from typing import Final

from leanwright.engine.profile import FuelSystem
from leanwright.recordings.recording import Recording
from leanwright.workbench.stated import bare, said

_NAMES: Final = frozenset(
    {
        "fuelsystem", "fuelmetering", "fuelcontrol", "induction", "injection", "mixture", "mixturecontrol",
        "carburetion", "carburation", "kraftstoffanlage", "gemischaufbereitung", "gemisch", "circuitcarburant",
        "alimentation", "sistemadecombustible", "mezcla", "impiantocarburante", "alimentazione", "miscela",
        "sistemadecombustivel", "mistura",
    }
)  # fmt: skip
# In order: "electronic injection" is electronic, and an automatic mixture may sit on any of them.
_KINDS: Final[tuple[tuple[FuelSystem, str], ...]] = (
    ("automatic", r"automat"),
    ("electronic", r"elec?tr|elektr|eletr|elettr|fadec|^efi$|ecu"),
    ("carburetted", r"carb|vergaser"),
    ("injected", r"inje|iniez|einspritz|injiziert"),
)


def stated_fuel_system(recordings: Sequence[Recording]) -> FuelSystem | None:
    """The kind of fuel system that the recordings state; ``None`` where they do not."""
    for recording in recordings:
        value = said(recording, _NAMES)
        for kind, pattern in _KINDS:
            if value is not None and re.search(pattern, bare(value)):
                return kind
    return None
