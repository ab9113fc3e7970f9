"""Forms that are made from data: each field with its words, what was typed, and what is wrong with it beside it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final

import msgspec

from leanwright.told import Told
from leanwright.web.refusal import RefusedError
from leanwright.web.visit import Form, unusable
from leanwright.workbench.entry_form import REFERS
from leanwright.workbench.file_form import Field, Table
from leanwright.workbench.file_form import Form as FileForm
from leanwright.workbench.typed_form import NAME, NO, YES, count_of

SPARE: Final = 2
"""Empty rows that stand ready below those that are filled in."""
MOST_ROWS: Final = 60
UNITS: Final = {"_gph": "US gal/h", "_percent": "percent", "_kg_l": "kg/L", "_s": "s"}
"""Endings of names that tell a unit."""
Place = Annotated[str, msgspec.Meta(max_length=120)]
Text = Annotated[str, msgspec.Meta(max_length=20_000)]


class FilledForm(Form, frozen=True):
    """The fields of a form made from data, in pairs: the place of a field, and what was typed there."""

    place: tuple[Place, ...] = ()
    value: tuple[Text, ...] = ()

    def texts(self) -> dict[str, str]:
        """What was typed, by place."""
        if len(self.place) != len(self.value):
            raise RefusedError(unusable("the form is not whole"))
        return {
            place: value.replace("\r\n", "\n") for place, value in zip(self.place, self.value, strict=True)
        }


@dataclass(frozen=True, slots=True)
class Cell:
    """One field on the page."""

    place: str
    name: str
    """Among the words of fields."""
    unit: str
    uncertain: bool
    """Whether it is the standard uncertainty of what it names."""
    hint: str
    kind: str
    choices: tuple[str, ...]
    worded: bool
    """Whether its choices have words, and are no names out of the book."""
    required: bool
    value: str
    wrong: str

    @property
    def id(self) -> str:
        """Its name among the page's elements."""
        return "f-" + self.place.strip("/").replace("/", "-").replace("_", "-")


@dataclass(frozen=True, slots=True)
class Block:
    """One table of a form: its heading and its rows."""

    heading: str
    note: str
    rows: tuple[tuple[Cell, ...], ...]
    many: bool


def blocks(form: FileForm, texts: Mapping[str, str], wrong: Mapping[str, str], least: int = 0) -> list[Block]:
    """A form as it stands on a page; ``least`` rows stand in the tables that repeat."""
    return [_block(table, texts, wrong, least) for table in form.tables]


def mistakes(form: FileForm, wrong: Mapping[str, str]) -> list[Cell]:
    """The fields with which something is wrong, for the summary on top."""
    every = [
        cell for block in blocks(form, dict.fromkeys(wrong, "x"), wrong) for row in block.rows for cell in row
    ]
    return [cell for cell in every if cell.wrong]


def _block(table: Table, texts: Mapping[str, str], wrong: Mapping[str, str], least: int) -> Block:
    several = table.many or table.named
    count = min(max(count_of(table, texts) + SPARE, least, 1), MOST_ROWS) if several else 1
    rows = tuple(_row(table, number, texts, wrong) for number in range(count))
    return Block(table.name.replace("_", "-"), Told.of(table.meaning), rows, several)


def _row(table: Table, number: int, texts: Mapping[str, str], wrong: Mapping[str, str]) -> tuple[Cell, ...]:
    named = (Field(NAME, "text", "as its document writes it"),) if table.named else ()
    alone = not (table.many or table.named) and not table.name
    return tuple(
        _cell(f"{table.name}/{number}/{one.name}", one, texts, wrong, alone=alone)
        for one in (*named, *table.fields)
    )


def _cell(place: str, one: Field, texts: Mapping[str, str], wrong: Mapping[str, str], *, alone: bool) -> Cell:
    choices = (YES, NO) if one.kind == "yes or no" else one.choices
    name, unit, uncertain = named(one.name)
    return Cell(
        place, name, unit, uncertain, Told.of(one.meaning), one.kind, choices, one.name not in REFERS, one.required and alone,
        texts.get(place, ""), wrong.get(place, ""),
    )  # fmt: skip


def named(field: str) -> tuple[str, str, bool]:
    """A field's name among the words of fields, the unit that its ending tells, and whether it is an uncertainty.

    >>> named("u_metered_percent"), named("percent"), named("firing_order")
    (('metered', 'percent', True), ('percent', '', False), ('firing-order', '', False))
    """
    bare, uncertain = field.removeprefix("u_"), field.startswith("u_")
    for ending, unit in UNITS.items():
        if bare.endswith(ending) and bare != ending:
            return bare.removesuffix(ending).replace("_", "-"), unit, uncertain
    return ("name" if bare == NAME else bare.replace("_", "-")), "", uncertain
