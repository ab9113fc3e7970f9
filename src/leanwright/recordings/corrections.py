"""What the user says about a column: ``HEADER=QUANTITY[:CYLINDER][:UNIT]``."""

from collections.abc import Sequence
from dataclasses import dataclass

from leanwright.errors import UnusableCorrectionError
from leanwright.quantities import QUANTITIES, UNITS
from leanwright.recordings.label import HIGHEST_CYLINDER, read_unit
from leanwright.recordings.recording import MOST_ENGINES, OF_ENGINE
from leanwright.told import Told, quoted


@dataclass(frozen=True, slots=True)
class Correction:
    """What one column means, by the user's word."""

    text: str
    header: str
    quantity: str
    cylinder: int | None
    """Of a reading of the whole engine the number of the engine, in a recording of several."""
    unit: str | None


def read_correction(text: str) -> Correction:
    """Take a correction apart.

    >>> read_correction("Temp A=egt:1:degF")
    Correction(text='Temp A=egt:1:degF', header='Temp A', quantity='egt', cylinder=1, unit='degF')
    """
    header, equals, meaning = text.rpartition("=")
    header, parts = header.strip(), [part.strip() for part in meaning.split(":")]
    if not equals or not header or not parts[0]:
        raise UnusableCorrectionError(text, "It does not have the form.")
    quantity = QUANTITIES.get(parts[0].lower())
    if quantity is None:
        raise UnusableCorrectionError(
            text,
            Told(
                "{part!r} is no quantity; there are {quantities}.",
                part=parts[0],
                quantities=", ".join(QUANTITIES),
            ),
        )
    cylinder, unit = None, None
    for part in parts[1:]:
        if part.isdecimal() and cylinder is None and unit is None:
            cylinder = int(part[:9])  # there is none of so many digits, nor of more
        elif part and unit is None:
            unit = part if part in UNITS else read_unit(part)
            if unit is None:
                raise UnusableCorrectionError(
                    text, Told("{part!r} is no unit; there are {units}.", part=part, units=", ".join(UNITS))
                )
        else:
            raise UnusableCorrectionError(text, "It does not have the form.")
    if cylinder is not None and not quantity.per_cylinder and quantity.name in OF_ENGINE:
        if not 1 <= cylinder <= MOST_ENGINES:
            raise UnusableCorrectionError(
                text,
                Told(
                    "There is no engine {engine}; they count from 1 to {most}.",
                    engine=cylinder,
                    most=MOST_ENGINES,
                ),
            )
    elif cylinder is not None and not quantity.per_cylinder:
        raise UnusableCorrectionError(text, Told("{name} does not belong to a cylinder.", name=quantity.name))
    if cylinder is not None and not 1 <= cylinder <= HIGHEST_CYLINDER:
        raise UnusableCorrectionError(
            text, Told("There is no cylinder {cylinder}; they count from 1.", cylinder=cylinder)
        )
    if (
        unit is not None
        and quantity.name not in {"summary", "unknown"}
        and UNITS[unit].dimension != quantity.dimension
    ):
        raise UnusableCorrectionError(
            text,
            Told(
                "{unit} measures {dimension}, and {name} does not.",
                unit=unit,
                dimension=UNITS[unit].dimension,
                name=quantity.name,
            ),
        )
    return Correction(text, header, quantity.name, cylinder, unit)


def find_columns(corrections: Sequence[Correction], names: Sequence[str]) -> dict[int, Correction]:
    """Which column each correction speaks of; a later one for the same column wins.

    A column can be named by its header, or by its place as ``#7`` where no header reads so.
    """
    found: dict[int, Correction] = {}
    for correction in corrections:
        places = [i for i, name in enumerate(names) if name == correction.header]
        places = places or [i for i, name in enumerate(names) if _loose(name) == _loose(correction.header)]
        number = correction.header.removeprefix("#")
        if (
            not places
            and correction.header.startswith("#")
            and number.isdecimal()
            and len(number) < 10
            and 1 <= int(number) <= len(names)
        ):
            places = [int(number) - 1]
        if not places:
            shown = quoted(names)
            raise UnusableCorrectionError(
                correction.text,
                Told(
                    "There is no column {header!r}; there are {shown}.", header=correction.header, shown=shown
                ),
            )
        if len(places) > 1:
            several = ", ".join(f"#{place + 1}" for place in places)
            raise UnusableCorrectionError(
                correction.text,
                Told(
                    "Several columns are headed {header!r}; name one by its place: {several}.",
                    header=correction.header,
                    several=several,
                ),
            )
        found[places[0]] = correction
    return found


def _loose(name: str) -> str:
    return "".join(name.split()).casefold()
