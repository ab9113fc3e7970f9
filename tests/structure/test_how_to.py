"""The how-to pages stand in the order of the work, and are numbered so."""

import re
from pathlib import Path

HOW_TO = Path(__file__).parents[2] / "docs" / "how-to"


def listed() -> list[tuple[int, str]]:
    text = (HOW_TO / "README.md").read_text(encoding="utf-8")
    return [
        (int(number), name)
        for number, name in re.findall(r"^(\d+)\. \[[^]]+\]\(([^)]+)\)", text, re.MULTILINE)
    ]


def test_each_numbered_page_is_listed_under_its_number() -> None:
    pages = {page.name for page in HOW_TO.glob("[0-9]*.md")}
    assert [number for number, _ in listed()] == list(range(1, len(pages) + 1))
    assert {name for _, name in listed()} == pages
    assert all(name.startswith(f"{number}-") for number, name in listed())


def test_why_the_cylinders_differ_is_explained_before_anything_is_chosen() -> None:
    names = [name.partition("-")[2] for _, name in listed()]
    assert names.index("explain.md") < names.index("choose.md")
