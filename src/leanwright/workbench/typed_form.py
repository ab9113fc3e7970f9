"""A form of fields as somebody fills it in: texts by their place, what they mean, and what is wrong with each.

A place is ``table/number/field``: ``nozzle/0/marking`` is the marking of the first nozzle, ``/0/name`` a field at the top.
Where the rows of a table carry names of the owner's, the name stands in the field ``NAME``.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from leanwright.told import Told, either
from leanwright.workbench.file_form import MOST_DIGITS, Field, Form, Table

NAME: Final = "NAME"
_NUMBERS_APART: Final = re.compile(r"[,;\s]+")
_NUMBER: Final = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")
YES, NO = "yes", "no"
WHAT_IT_TAKES: Final = {
    "number": Told("a number, as 12.5"),
    "whole number": Told("a whole number"),
    "yes or no": Told("yes or no"),
    "list of whole numbers": Told("whole numbers with commas between"),
    "list": Told("numbers or words with commas between"),
}


@dataclass(frozen=True, slots=True)
class Filled:
    """What was filled in: its values in the shape of the form, and what is wrong, by place."""

    values: Mapping[str, Any]
    wrong: Mapping[str, str] = field(default_factory=dict)


def filled(form: Form, texts: Mapping[str, str]) -> Filled:
    """Understand the texts of a form; rows in which nothing stands are no rows."""
    values: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for table in form.tables:
        rows = _rows(table, texts)
        read = [(number, _row(table, number, row, wrong)) for number, row in rows]
        if table.named:
            _name(table, rows, wrong)
            named = {dict(rows)[number].get(NAME, ""): one for number, one in read}
            values |= {table.name: named} if named else {}
        elif table.many:
            values |= {table.name: [one for _, one in read]} if read else {}
        elif read or not table.name:
            one = read[0][1] if read else _row(table, 0, {}, wrong)
            values |= {table.name: one} if table.name else one
        if table.required and not read:
            wrong.setdefault(_first(table), Told("One at least is needed."))
    return Filled(values, wrong)


def texts_of(form: Form, values: Mapping[str, Any]) -> dict[str, str]:
    """Values as somebody would type them, by place."""
    texts: dict[str, str] = {}
    for table in form.tables:
        found = values if not table.name else values.get(table.name)
        if found is None:
            continue
        rows: list[Mapping[str, Any]] = (
            [{NAME: name, **row} for name, row in found.items()]
            if table.named
            else [*found]
            if table.many
            else [found]
        )
        for number, row in enumerate(rows):
            for name in (*((NAME,) if table.named else ()), *(one.name for one in table.fields)):
                if row.get(name) is not None:
                    texts[f"{table.name}/{number}/{name}"] = _text(row[name])
    return texts


def count_of(table: Table, texts: Mapping[str, str]) -> int:
    """How many rows of a table are filled in, the last one counted by its number."""
    return 1 + max((number for number, _ in _rows(table, texts)), default=-1)


def _rows(table: Table, texts: Mapping[str, str]) -> list[tuple[int, dict[str, str]]]:
    rows: dict[int, dict[str, str]] = {}
    for place, text in texts.items():
        name, _, rest = place.partition("/")
        number, _, field_name = rest.partition("/")
        if name == table.name and re.fullmatch(r"\d{1,9}", number, re.ASCII) and text.strip():
            rows.setdefault(int(number), {})[field_name] = text.strip()
    return sorted(rows.items())


def _row(table: Table, number: int, row: Mapping[str, str], wrong: dict[str, str]) -> dict[str, Any]:
    values = {}
    for one in table.fields:
        place = f"{table.name}/{number}/{one.name}"
        text = row.get(one.name, "")
        if not text:
            if one.required:
                wrong[place] = Told("This is needed.")
            continue
        value = _value(one, text)
        if value is None:
            takes = either(one.choices) if one.choices else WHAT_IT_TAKES[one.kind]
            wrong[place] = Told(
                "“{text}” cannot be used here: it takes {takes}.", text=text[:60], takes=takes
            )
        else:
            values[one.name] = value
    return values


def _name(table: Table, rows: list[tuple[int, dict[str, str]]], wrong: dict[str, str]) -> None:
    seen: set[str] = set()
    for number, row in rows:
        name = row.get(NAME, "")
        if not name or name in seen:
            wrong[f"{table.name}/{number}/{NAME}"] = Told(
                "This is needed." if not name else "This name stands twice."
            )
        seen.add(name)


def _first(table: Table) -> str:
    return f"{table.name}/0/{NAME if table.named else table.fields[0].name}"


def _value(one: Field, text: str) -> Any:
    """What a text means in a field; ``None`` where it means nothing there."""
    if one.choices and one.kind in {"text", "number"} and text not in one.choices:
        return None
    if one.kind == "number":
        return _number(text)
    if one.kind == "whole number":
        return int(text) if re.fullmatch(r"-?\d{1,9}", text, re.ASCII) else None
    if one.kind == "yes or no":
        return {YES: True, NO: False}.get(text)
    if one.kind == "list of texts":
        return _parts(text)
    if one.kind == "list of whole numbers":
        parts = [part for part in _NUMBERS_APART.split(text) if part]
        return (
            [int(part) for part in parts]
            if all(re.fullmatch(r"\d{1,4}", part, re.ASCII) for part in parts)
            else None
        )
    if one.kind == "list":
        return [_loose(part) for part in _parts(text)]
    return text


def _parts(text: str) -> list[str]:
    """Parts of a list; where a semicolon parts them, a comma belongs to a part."""
    return [part.strip() for part in text.split(";" if ";" in text else ",") if part.strip()]


def _number(text: str) -> float | int | None:
    """A number; a comma counts as its point, since some of us write it so."""
    plain = text.replace("−", "-").replace(",", ".")
    if not _NUMBER.fullmatch(plain) or len(plain) > 30:
        return None
    if not re.fullmatch(r"[+-]?\d+", plain):
        return float(plain)
    return int(plain) if abs(int(plain)) < 10**MOST_DIGITS else None


def _loose(text: str) -> Any:
    number = _number(text)
    return text if number is None else number


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return YES if value else NO
    if isinstance(value, list | tuple):
        parts = [*map(_text, value)]
        return ("; " if any("," in part for part in parts) else ", ").join(parts)
    if isinstance(value, float):
        # Written out: nobody types 6.1e-05, and it would not be read back.
        return format(Decimal(str(value)), "f")
    return str(value)
