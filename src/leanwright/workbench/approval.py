"""Whether an approval covers an aircraft, and which line of its file decides. The program never approves anything."""

import string
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, Literal

from leanwright.analysis.chosen import ApprovalAnswer
from leanwright.errors import UnusableApprovalError
from leanwright.findings import Statement
from leanwright.told import Told
from leanwright.workbench.file_form import Content, Field, Form, Table, read
from leanwright.workbench.nozzle_files import Aircraft

_LINE: Final = (
    Field("aircraft", "text", "type and model, as the document writes it"),
    Field(
        "aircraft_serials",
        "list of texts",
        'serial numbers: "T-0412", "T-0400 to T-0450", "T-0500 and on"; all where none is given',
    ),
    Field("engine", "text", "model, as the document writes it"),
    Field("engine_serials", "list of texts", "the same for the engine"),
    Field("not_with", "list of texts", "modifications with which the document does not settle it"),
    Field("where", "text", "page or paragraph of the document"),
)
APPROVAL: Final = Form(
    "leanwright/approval/1",
    "Approval",
    "Which engines, aircraft and serial numbers a document covers; `leanwright plan --approval FILE`, with "
    "`--aircraft FILE` for the aircraft in question. Copied from the document by its owner; the document holds.",
    (
        Table(
            "",
            "",
            (
                Field("document", "text", "its number", required=True),
                Field("revision", "text", "its revision"),
                Field(
                    "permission_on_file", "yes or no", "whether the holder's permission to use it is on file"
                ),
            ),
        ),
        Table("covers", "one line of what it covers", _LINE, many=True, required=True),
        Table("excludes", "one line of what it leaves out; it wins over the lines above", _LINE, many=True),
    ),
    """\
format = "leanwright/approval/1"
document = "PG-STC-9 (invented)"
revision = "B"
permission_on_file = true

[[covers]]
aircraft = "Hollowbrook Tarn (invented)"
aircraft_serials = ["T-0400 to T-0450", "T-0500 and on"]
engine = "Stonewick Six (invented)"
not_with = ["propeller of another type"]
where = "page 3"

[[excludes]]
engine = "Stonewick Six (invented)"
engine_serials = ["S6-1200 to S6-1209"]
""",
    UnusableApprovalError,
)


def read_approval(place: Path) -> Content:
    """Read what an approval covers; raises :class:`UnusableApprovalError`, also for serial numbers it cannot follow."""
    content = read(place, APPROVAL)
    for table in ("covers", "excludes"):
        for number, one in enumerate(content.many(table)):
            where = Told(
                "[[{table}]] number {number} (line {line})",
                table=table,
                number=number + 1,
                line=content.line(table, number),
            )
            if not one.get("aircraft") and not one.get("engine"):
                raise APPROVAL.error(
                    content.name, Told("{where} names neither an aircraft nor an engine", where=where)
                )
            for text in (*one.get("aircraft_serials", []), *one.get("engine_serials", [])):
                _check_serials(content.name, where, text)
    return content


def covered(approval: Content, aircraft: Aircraft | None) -> ApprovalAnswer:
    """Whether the approval covers the aircraft; whatever no line settles is for a person to decide."""
    document = f"{approval.values['document']} {approval.values.get('revision', '')}".strip()
    if aircraft is None or not (aircraft.type and aircraft.engine):
        said = Statement("approval-aircraft-unknown", {"document": document})
        return ApprovalAnswer("person-decides", said, document)
    unsettled: ApprovalAnswer | None = None
    for table in ("excludes", "covers"):
        for number, one in enumerate(approval.many(table)):
            match, subject = _matches(one, aircraft)
            line = approval.line(table, number)
            values = {"document": document, "file_line": line, "subject": subject}
            if match in {"open", "near"}:
                code = "approval-serial-unknown" if match == "open" else "approval-name-differs"
                found = ApprovalAnswer("person-decides", Statement(code, values), document, line)
                unsettled = unsettled or found
            elif match == "yes" and table == "excludes":
                return ApprovalAnswer("not-covered", Statement("approval-excluded", values), document, line)
            elif match == "yes" and (unsettled is None or unsettled.line in _lines(approval, "covers")):
                said = Statement("approval-covered", values)
                return _with_conditions(
                    approval, one, aircraft, ApprovalAnswer("covered", said, document, line)
                )
    return unsettled or ApprovalAnswer(
        "not-covered", Statement("approval-no-line", {"document": document}), document
    )


def _lines(approval: Content, table: str) -> set[int]:
    return {approval.line(table, number) for number in range(len(approval.many(table)))}


def _with_conditions(
    approval: Content, one: Mapping[str, Any], aircraft: Aircraft, answer: ApprovalAnswer
) -> ApprovalAnswer:
    """What a line that covers the aircraft still leaves to a person.

    Modifications are named by their owner in free words: one that the line does not name may be meant all the same.
    """
    values = {"document": answer.document, "file_line": answer.line}
    named = {_plain(text) for text in one.get("not_with", [])}
    if named and aircraft.modifications:
        met = [text for text in aircraft.modifications if _plain(text) in named]
        values["subject"] = (met or list(aircraft.modifications))[0]
        return replace(answer, answer="person-decides", said=Statement("approval-modification", values))
    if approval.values.get("permission_on_file") is not True:
        return replace(answer, answer="person-decides", said=Statement("approval-no-permission", values))
    return answer


def _matches(one: Mapping[str, Any], aircraft: Aircraft) -> tuple[Literal["yes", "no", "near", "open"], str]:
    """Whether a line speaks of the aircraft: yes, no, nearly (a name written otherwise), or open (a serial missing)."""
    near = ""
    for wanted, found in ((one.get("aircraft"), aircraft.type), (one.get("engine"), aircraft.engine)):
        if not wanted or _spaced(wanted) == _spaced(found):
            continue
        if _plain(wanted) != _plain(found):
            return "no", ""
        near = found
    for serials, serial, what in (
        (one.get("aircraft_serials"), aircraft.serial, "aircraft"),
        (one.get("engine_serials"), aircraft.engine_serial, "engine"),
    ):
        if serials and not serial:
            return "open", what
        if serials and not any(_within(text, serial) for text in serials):
            return "no", ""
    return ("near", near) if near else ("yes", "")


def _within(text: str, serial: str) -> bool:
    found = _range(text)
    if found is None:
        return _spaced(text) == _spaced(serial)
    here, first = _number(serial), _number(found[0])
    last = _number(found[1]) if found[1] else None
    if here is None or first is None or here[0] != first[0]:
        return False
    return first[1] <= here[1] and (last is None or here[1] <= last[1])


def _check_serials(name: str, where: str, text: str) -> None:
    if not text.strip():
        raise APPROVAL.error(name, Told("{where} has an empty serial number", where=where))
    found = _range(text)
    if found is None:
        return
    first = _number(found[0])
    last = _number(found[1]) if found[1] else first
    if first is None or last is None or first[0] != last[0] or first[1] > last[1]:
        raise APPROVAL.error(
            name,
            Told(
                "{where}: {text!r} is no range of serial numbers; both ends need the same letters and a number that rises",
                where=where,
                text=text,
            ),
        )


def _range(text: str) -> tuple[str, str] | None:
    """Both ends of a range of serial numbers, the second empty for one that is open; ``None`` for a single serial."""
    plain = " ".join(text.split())
    first, joint, last = plain.partition(" to ")
    if joint:
        return first, last
    return (plain.removesuffix(" and on"), "") if plain.endswith(" and on") else None


def _number(serial: str) -> tuple[str, tuple[int, str]] | None:
    """Letters before the last number of a serial, and that number; ``None`` where it does not end in one.

    The number stands as its digits and how many they are, which compare as numbers do, however long they are.
    """
    plain = _spaced(serial)
    letters = plain.rstrip(string.digits)
    digits = plain.removeprefix(letters)
    bare = digits.lstrip("0")
    return (letters, (len(bare), bare)) if digits else None


def _spaced(text: str) -> str:
    return " ".join(text.casefold().split())


def _plain(text: str) -> str:
    """Letters and digits alone: names that differ only in signs and blanks are nearly the same."""
    return "".join(sign for sign in text.casefold() if sign.isalnum())
