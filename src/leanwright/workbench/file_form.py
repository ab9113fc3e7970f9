"""The form of the project's own TOML files: their tables and fields, kept as data, read and checked alike."""

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from leanwright.errors import UnusableFileError
from leanwright.told import Told, either

MOST_BYTES: Final = 1 << 20
MOST_DIGITS: Final = 15
"""Of a whole number; a float holds as many."""
KINDS: Final[dict[str, tuple[type, ...]]] = {
    "text": (str,),
    "number": (int, float),
    "whole number": (int,),
    "yes or no": (bool,),
    "list of texts": (list,),
    "list of whole numbers": (list,),
    "list": (list,),
}
TAKES: Final[dict[str, str]] = {
    "text": Told("a text"),
    "number": Told("a number"),
    "whole number": Told("a whole number"),
    "yes or no": Told("yes or no"),
    "list of texts": Told("a list of texts"),
    "list of whole numbers": Told("a list of whole numbers"),
    "list": Told("a list"),
}
"""What a field takes, as a mistake in a file tells it."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a table: its name, what kind of value it takes, what it means, and whether it must be there."""

    name: str
    kind: str
    meaning: str
    required: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a file. ``many`` tables stand under double brackets, ``named`` ones carry a name of the owner's."""

    name: str
    meaning: str
    fields: tuple[Field, ...]
    many: bool = False
    named: bool = False
    required: bool = False

    @property
    def heading(self) -> str:
        """How it is written in the file."""
        if not self.name:
            return Told("at the top")
        inside = f"{self.name}.NAME" if self.named else self.name
        return f"[[{inside}]]" if self.many else f"[{inside}]"


@dataclass(frozen=True, slots=True)
class Form:
    """A kind of file: its mark in ``format``, what it is for, an example, and its tables."""

    mark: str
    title: str
    purpose: str
    tables: tuple[Table, ...]
    example: str
    error: type[UnusableFileError]


@dataclass(frozen=True, slots=True)
class Content:
    """A file that keeps to its form: its values, and where its repeated tables stand."""

    name: str
    values: Mapping[str, Any]
    text: str

    def many(self, table: str) -> list[dict[str, Any]]:
        """The entries of a repeated table."""
        return list(self.values.get(table, []))

    def line(self, table: str, number: int) -> int:
        """The line in which an entry of a repeated table begins, counted from 1."""
        starts = [
            line
            for line, words in enumerate(self.text.splitlines(), 1)
            if words.split("#")[0].replace(" ", "") == f"[[{table}]]"
        ]
        return starts[number] if number < len(starts) else 0


def read(place: Path, form: Form) -> Content:
    """Read a file of a form.

    Raises the form's own error if it cannot be read or does not keep to the form; the message tells where.
    """
    try:
        with place.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise form.error(
            place.name,
            Told("it cannot be opened ({strerror})", strerror=error.strerror),
            Told("Check the name."),
        ) from error
    if len(data) > MOST_BYTES:
        raise form.error(place.name, Told("it is larger than 1 MB, so it is no such file"))
    return parse(place.name, data, form)


def write(form: Form, values: Mapping[str, Any], remark: str = "") -> bytes:
    """A file of a form with these values, which :func:`parse` reads back; ``remark`` stands in its first line."""
    told = "".join(sign for sign in " ".join(remark.split()) if sign.isprintable())
    lines = [f"# {told}"] if told else []
    lines.append(f"format = {_written(form.mark)}")
    for table in sorted(form.tables, key=lambda one: bool(one.name)):
        found = values if not table.name else values.get(table.name)
        if not table.name:
            lines += _lines(table, values)
        elif found is None:
            continue
        elif table.named:
            for name, one in found.items():
                lines += ["", f"[{table.name}.{_written(name)}]", *_lines(table, one)]
        else:
            entries: list[Mapping[str, Any]] = [*found] if table.many else [found]
            for each in entries:
                lines += ["", table.heading, *_lines(table, each)]
    return ("\n".join(lines) + "\n").encode("utf-8")


def _lines(table: Table, entry: Mapping[str, Any]) -> list[str]:
    return [
        f"{_written(one.name)} = {_written(entry[one.name])}"
        for one in table.fields
        if entry.get(one.name) is not None
    ]


def _written(value: Any) -> str:
    """A value as TOML writes it: for texts, numbers, yes or no, and lists of these, as JSON does, but for one sign."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False).replace("\x7f", "\\u007f")


def parse(name: str, data: bytes, form: Form) -> Content:
    """Check the content of a file of a form; raises as :func:`read`."""
    try:
        text = data.decode("utf-8-sig")
        values = tomllib.loads(text)
        too_long = _is_too_long(values)
    except UnicodeDecodeError as error:
        raise form.error(name, Told("it is not text in UTF-8")) from error
    except tomllib.TOMLDecodeError as error:
        raise form.error(name, _where_broken(str(error))) from error
    except RecursionError as error:
        raise form.error(name, Told("it is nested too deeply")) from error
    except ValueError as error:  # a whole number of more digits than the language reads
        raise form.error(name, _TOO_LONG) from error
    if too_long:
        raise form.error(name, _TOO_LONG)
    if values.get("format") != form.mark:
        raise form.error(
            name,
            Told("its format is {mark!r}", mark=values.get("format")),
            Told('It has to begin with: format = "{mark}"', mark=form.mark),
        )
    _check_tables(name, values, form)
    return Content(name, values, text)


_TOO_LONG: Final = Told("it holds a number of more than {digits} digits", digits=MOST_DIGITS)


def _is_too_long(value: object) -> bool:
    """Whether a whole number of too many digits stands anywhere in a value."""
    if isinstance(value, dict):
        return any(_is_too_long(one) for one in value.values())
    if isinstance(value, list):
        return any(_is_too_long(one) for one in value)
    return isinstance(value, int) and abs(value) >= 10**MOST_DIGITS


def _where_broken(message: str) -> Told:
    """Where a file stops to be TOML, as the library's message tells it."""
    found = re.search(r"line (\d+), column (\d+)", message)
    if found is None:
        return Told("it is not TOML: its end is missing")
    return Told("it is not TOML: line {line}, column {column}", line=int(found[1]), column=int(found[2]))


def _check_tables(name: str, values: Mapping[str, Any], form: Form) -> None:
    top = next((table for table in form.tables if not table.name), Table("", "", ()))
    tables = {table.name: table for table in form.tables if table.name}
    plain = {key: value for key, value in values.items() if key not in tables and key != "format"}
    _check_fields(name, Told("at the top"), plain, top, form)
    for table in tables.values():
        if table.name not in values:
            if table.required:
                raise form.error(name, Told("it has no {heading}", heading=table.heading))
            continue
        found = values[table.name]
        if not isinstance(found, list) if table.many else not isinstance(found, dict):
            raise form.error(
                name, Told("{name} has to be written as {heading}", name=table.name, heading=table.heading)
            )
        entries: list[tuple[str, Any]]
        if isinstance(found, list):
            entries = [
                (Told("{heading} number {number}", heading=table.heading, number=number), one)
                for number, one in enumerate(found, 1)
            ]
        elif table.named:
            entries = [(f"[{table.name}.{key}]", one) for key, one in found.items()]
        else:
            entries = [(table.heading, found)]
        for where, entry in entries:
            if not isinstance(entry, dict):
                raise form.error(name, Told("{where} has to be a table of fields", where=where))
            _check_fields(name, where, entry, table, form)


def _check_fields(name: str, where: str, entry: Mapping[str, Any], table: Table, form: Form) -> None:
    known = {field.name: field for field in table.fields}
    for key, value in entry.items():
        if key not in known:
            raise form.error(
                name,
                Told(
                    "{where} has the field {key!r}, which is not one of {known}",
                    where=where,
                    key=key,
                    known=", ".join(known),
                ),
            )
        field = known[key]
        if not _is(value, field.kind):
            raise form.error(
                name,
                Told(
                    "{where}: {key} is {value!r}; it has to be {takes}",
                    where=where,
                    key=key,
                    value=value,
                    takes=TAKES[field.kind],
                ),
            )
        if field.choices and value not in field.choices:
            raise form.error(
                name,
                Told(
                    "{where}: {key} is {value!r}; it has to be {takes}",
                    where=where,
                    key=key,
                    value=value,
                    takes=either(field.choices),
                ),
            )
    for field in table.fields:
        if field.required and field.name not in entry:
            raise form.error(
                name,
                Told(
                    "{where} lacks the field {name!r} ({meaning})",
                    where=where,
                    name=field.name,
                    meaning=Told.of(field.meaning),
                ),
            )


def _is(value: object, kind: str) -> bool:
    if isinstance(value, bool) and kind != "yes or no":
        return False
    if not isinstance(value, KINDS[kind]):
        return False
    if isinstance(value, float) and not abs(value) < float("inf"):
        return False
    if isinstance(value, list) and kind != "list":
        inner = str if kind == "list of texts" else int
        return all(isinstance(one, inner) and not isinstance(one, bool) for one in value)
    return True
