"""Every field, choice and kind that a form of the workbench shows has its words, and no words are idle."""

from leanwright.book.kinds.table import KINDS
from leanwright.book.state import State
from leanwright.report.words.catalogue import load
from leanwright.web.filling import Cell, blocks
from leanwright.workbench import entry_form, papers
from leanwright.workbench.file_form import Form

WORDS = load("en").content["word"]


def forms() -> list[Form]:
    return [
        *(entry_form.form_of(kind, State()) for kind in entry_form.OFFERED),
        *(paper.form for paper in papers.KINDS.values()),
    ]


def cells() -> list[Cell]:
    return [cell for form in forms() for block in blocks(form, {}, {}) for row in block.rows for cell in row]


def test_every_field_and_heading_has_its_words() -> None:
    headings = {block.heading for form in forms() for block in blocks(form, {}, {}) if block.heading}
    assert {cell.name for cell in cells()} | headings == set(WORDS["field"])


def test_every_choice_has_its_words() -> None:
    # A choice out of the book is a name there: it is shown as it is.
    shown = {choice.replace(" ", "-") for cell in cells() if cell.worded for choice in cell.choices}
    assert shown == set(WORDS["choice"])


def test_every_kind_of_entry_and_paper_has_its_words() -> None:
    assert (set(WORDS["entry-kind"]), set(WORDS["paper"])) == (set(KINDS), set(papers.KINDS))


def test_every_form_says_what_it_is_for() -> None:
    said = set(WORDS["entry-purpose"]), set(WORDS["paper-purpose"])
    assert said == (set(entry_form.OFFERED), set(papers.KINDS))
