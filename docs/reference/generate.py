"""Make the reference pages anew from the program: ``python dev.py docs``.

With ``--check`` nothing is written, and a page that is out of date is named.
"""

import ast
import json
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from leanwright.book.kinds.table import KINDS, schemas
from leanwright.cli import help_pages
from leanwright.workbench.approval import APPROVAL
from leanwright.workbench.cause_files import BOTTLE_TEST, HEALTH, TROUBLESHOOTING
from leanwright.workbench.file_form import Field, Form
from leanwright.workbench.limit_files import LIMITS
from leanwright.workbench.nozzle_forms import AIRCRAFT, NOZZLE_SET, STOCK
from tests.structure.codes import UnknownCodeError, argument, calls, sources_of, values
from tests.structure.sources import Source, sources

FOLDER: Final = Path(__file__).parent
MADE_BY: Final = "<!-- Made by `python dev.py docs`; changes by hand are lost. -->"
COMMANDS_INTRODUCTION: Final = """\
Results go to standard output; progress and messages go to standard error.

| exit code | meaning |
| --- | --- |
| 0 | done; "no" and "cannot tell" are answers too |
| 1 | it ran, but what was asked cannot be given from this input, for example because no sweep was found |
| 2 | wrong usage, or something that cannot be read or written; one plain sentence on standard error says what to do |
"""
FORMS: Final[tuple[Form, ...]] = (
    NOZZLE_SET,
    STOCK,
    AIRCRAFT,
    APPROVAL,
    BOTTLE_TEST,
    HEALTH,
    TROUBLESHOOTING,
    LIMITS,
)
FILES_INTRODUCTION: Final = """\
Files that you write yourself, in TOML 1.0 and UTF-8. The ending of a field is its unit, as everywhere. A field that the form does
not know, and a value that does not fit, is refused with the place where it stands. All names and numbers below are invented.
"""
ENTRIES_INTRODUCTION: Final = """\
What `leanwright book add KIND` takes, each kind with its JSON Schema (draft 2020-12). A decimal number is a text (`"33.5"`), so that
no reader can round it; dates are written `2026-11-29`; a field that the kind does not have is refused. A field named `text` or
`reason` may hold several lines. What an entry may say also depends on the entries before it: the engine has to be there, its hours
do not go back, no work lies in the future, and the work keeps to its order; the message of a refusal says which rule it was.
"""
ELLIPSIS: Final = "…"
FIELD: Final = re.compile(r"\{[^{}]*\}")
"""Where a text takes a value."""
FINDING_FIELDS: Final = ("severity", "code", "message")
FINDINGS_INTRODUCTION: Final = """\
A fault in a recording never stops the rest of it from being used. It comes back as a finding: in the text that
`leanwright channels` prints, in the page, and in the JSON document under `findings`. Codes stay as they are;
wording may get better. An ellipsis stands for a value of the recording.
"""


def commands_page() -> str:
    """Every command and option, as its help page says it."""
    sections = [
        f"## {title(name)}\n\n```text\n{text.rstrip()}\n```" for name, text in help_pages.pages().items()
    ]
    return page("Commands", COMMANDS_INTRODUCTION, *sections)


def title(name: str) -> str:
    """Name of a command as it is typed."""
    return f"`{name}`" if name == "leanwright" else f"`leanwright {name.replace('-', ' ', 1)}`"


def findings_page() -> str:
    """Every code that a finding may bear, with its severity and wording."""
    rows = sorted({row for module in sources() for row in finding_rows(module)})
    table = "\n".join(["| code | severity | message |", "| --- | --- | --- |", *rows])
    return page("Findings", FINDINGS_INTRODUCTION, table)


def finding_rows(module: Source) -> Iterator[str]:
    """The findings that a module makes, each as a row of the table."""
    for call in calls(module.tree, "Finding"):
        severity, code, message = (argument(call, place, name) for place, name in enumerate(FINDING_FIELDS))
        cells = [wording(severity, module), wording(message, module)]
        for one in sorted(values(code, module.tree)) if code else []:
            yield f"| `{one}` | {' | '.join(cell.replace('|', '&#124;') for cell in cells)} |"


def wording(text: ast.expr | None, module: Source) -> str:
    """What is written in the source, with an ellipsis for every value that is put in."""
    match text:
        case ast.Constant(value=value):
            return str(value)
        case ast.Call(func=ast.Name(id="Told"), args=[pattern, *_]):
            return FIELD.sub(ELLIPSIS, wording(pattern, module))
        case ast.Call(func=ast.Name(id="joined"), args=[ast.List(elts=parts)]):
            return " ".join(wording(part, module) for part in parts)
        case ast.JoinedStr(values=parts):
            return "".join(wording(part, module) for part in parts)
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return wording(left, module) + wording(right, module)
        case ast.FormattedValue(value=ast.IfExp() as choice):
            return wording(choice, module)
        case ast.IfExp(body=one, orelse=other):
            return "/".join(part for part in (wording(one, module), wording(other, module)) if part)
        case ast.Name(id=name):
            try:
                found = [wording(source, module) for source in sources_of(name, text, module.tree)]
            except UnknownCodeError:
                return ELLIPSIS
            return " / ".join(dict.fromkeys(found))
    return ELLIPSIS


def files_page() -> str:
    """Every form of the owner's own files: tables, fields, and an example."""
    sections = []
    for form in FORMS:
        parts = [f"## {form.title}", form.purpose, f'The file begins with `format = "{form.mark}"`.']
        for table in form.tables:
            about = f": {table.meaning}" if table.meaning else ""
            rows = [
                f"| `{field.name}` | {field_kind(field)} | {field.meaning}{' (required)' if field.required else ''} |"
                for field in table.fields
            ]
            heading = f"`{table.heading}`" if table.name else "At the top"
            parts.append(
                f"{heading}{about}\n\n| field | takes | meaning |\n| --- | --- | --- |\n" + "\n".join(rows)
            )
        parts.append(f"```toml\n{form.example.rstrip()}\n```")
        sections.append("\n\n".join(parts))
    return page("Files", FILES_INTRODUCTION, *sections)


def field_kind(field: Field) -> str:
    """What kind of value a field takes, or which ones."""
    return " or ".join(f"`{choice}`" for choice in field.choices) if field.choices else field.kind


def page(heading: str, *parts: str) -> str:
    """A page of its heading and parts."""
    return "\n\n".join([f"# {heading}", MADE_BY, *(part.strip() for part in parts)]) + "\n"


def pages() -> dict[str, str]:
    """Every generated page by the name of its file."""
    return {
        "commands.md": commands_page(),
        "files.md": files_page(),
        "findings.md": findings_page(),
        "book-entries.md": entries_page(),
        **{f"book-entries/{name}.json": schema_text(schema) for name, schema in schemas().items()},
    }


def entries_page() -> str:
    """The kinds of entries of the book, each with what it is for and its schema."""
    rows = [
        f"| [`{name}`](book-entries/{name}.json) | {' '.join((kind.__doc__ or '').split())} |"
        for name, kind in KINDS.items()
    ]
    return page(
        "Entries of the book",
        ENTRIES_INTRODUCTION,
        "\n".join(["| kind | what it is |", "| --- | --- |", *rows]),
    )


def schema_text(schema: dict[str, object]) -> str:
    """A schema as it stands in its file."""
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the pages, or with ``--check`` compare them."""
    old = {
        name: text
        for name, text in pages().items()
        if not (FOLDER / name).is_file() or (FOLDER / name).read_text("utf-8") != text
    }
    if "--check" in sys.argv[1:]:
        sys.exit(f"Out of date: {', '.join(old)}. Run: python dev.py docs" if old else 0)
    for name, text in old.items():
        (FOLDER / name).parent.mkdir(exist_ok=True)
        (FOLDER / name).write_text(text, "utf-8")


if __name__ == "__main__":
    main()
