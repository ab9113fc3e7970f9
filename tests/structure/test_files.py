"""What may stand in the project's files: no address of a registry, no path of a machine, no private page."""

import re
import subprocess
from collections.abc import Mapping

import pytest

from tests.structure.sources import ROOT, project_texts

# Put together from halves, so that this file passes its own check.
HOSTS = ["py" + "pi.org", "python" + "hosted.org", "npm" + "js.org", "npm" + "js.com", "deb." + "debian.org"]
MACHINE_PATHS = ["/wo" + "rk/", "/ro" + "ot/", "/ho" + "me/", "/fa" + "rm/", "/Us" + "ers/", "C:\\" + "Users"]
PRIVATE_FOLDER = "sha" + "red/"
PRIVATE_PAGES = [
    name + ".md"
    for name in (
        "architecture", "checks", "contract", "estimator", "looks", "product", "reliability", "stack", "style",
        "trade",
    )
]  # fmt: skip
FORBIDDEN = [
    *(("a registry's host", re.compile(re.escape(host), re.IGNORECASE)) for host in HOSTS),
    *(("a path of somebody's machine", re.compile(re.escape(path))) for path in MACHINE_PATHS),
    ("a private folder", re.compile(r"(?<!\w)" + re.escape(PRIVATE_FOLDER))),
    *(("a private page", re.compile(r"(?<![\w-])" + re.escape(page))) for page in PRIVATE_PAGES),
]
LONGEST_MODULE = 450
EXCUSE = re.compile(r"#\s*(noqa\b.*|type:\s*ignore.*|pragma:.*)", re.IGNORECASE)
NARROW = re.compile(
    r"#\s*(noqa: [A-Z]+\d+(, ?[A-Z]+\d+)*|type: ignore\[[a-z-]+(, ?[a-z-]+)*\])(?P<reason>.*)"
)
IN_WORDS = re.compile(r"[\s#-]*\S.{5,}")
LINK = re.compile(r"\]\(([^)\s]+)\)")


def told(texts: Mapping[str, str]) -> list[str]:
    """Every line of some texts, or of their names, that says what must not be said."""
    return [
        f"{name}:{number} names {what}"
        for name, text in texts.items()
        for number, line in enumerate([name, *text.splitlines()])
        for what, pattern in FORBIDDEN
        if pattern.search(line)
    ]


def bad_excuses(texts: Mapping[str, str]) -> list[str]:
    """Every lint, type or coverage exception without a code, or without a reason beside it or on the line above."""
    bad = []
    for name, text in texts.items():
        above = ""
        for number, line in enumerate(text.splitlines(), 1):
            excuse = EXCUSE.search(line)
            narrow = NARROW.match(excuse.group()) if excuse else None
            explained = narrow and (IN_WORDS.match(narrow["reason"]) or above.lstrip().startswith("#"))
            if excuse and not explained:
                bad.append(f"{name}:{number} {excuse.group()}")
            above = line
    return bad


def dead_links(texts: Mapping[str, str]) -> list[str]:
    """Links of pages to files that are not there."""
    dead = []
    for name, text in texts.items():
        for link in LINK.findall(text):
            target = link.partition("#")[0]
            if target and "://" not in target and not target.startswith("mailto:"):
                place = (ROOT / name).parent / target
                if not place.exists():
                    dead.append(f"{name} leads to {target}")
    return dead


def python_files() -> dict[str, str]:
    """The text of every Python file of the project."""
    return {name: text for name, text in project_texts().items() if name.endswith(".py")}


def pages() -> dict[str, str]:
    """The text of every page."""
    return {name: text for name, text in project_texts().items() if name.endswith(".md")}


def test_no_file_names_a_registry_a_machine_or_a_private_page() -> None:
    assert told(project_texts()) == []


def test_no_commit_message_does_either() -> None:
    log = ["git", "log", "--format=%H%n%B"]
    done = subprocess.run(log, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        pytest.skip("no history here: an unpacked archive")
    assert told({"history": done.stdout}) == []


@pytest.mark.parametrize("word", [*HOSTS, *MACHINE_PATHS, "../" + PRIVATE_FOLDER, *PRIVATE_PAGES])
def test_a_planted_word_is_seen(word: str) -> None:
    assert len(told({"planted.md": f"see {word}"})) == 1
    assert len(told({word: ""})) == 1


def test_every_exception_from_a_check_has_its_reason_beside_it() -> None:
    assert bad_excuses(python_files()) == []


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("x = 1  # no" + "qa", 1),
        ("x = 1  # no" + "qa: S101", 1),
        ("x = 1  # no" + "qa: S101, S102  the tests do this", 0),
        ("x = 1  # type" + ": ignore", 1),
        ("x = 1  # type" + ": ignore[arg-type]", 1),
        ("x = 1  # type" + ": ignore[arg-type]  # the library's types are wrong here", 0),
        ("# The tests do this.\nx = 1  # no" + "qa: S101", 0),
        ("x = 1  # pra" + "gma: no cover", 1),
    ],
)
def test_an_exception_without_a_reason_is_seen(line: str, count: int) -> None:
    assert len(bad_excuses({"planted.py": line})) == count


def test_every_lint_rule_that_is_off_has_its_reason() -> None:
    text = (ROOT / "pyproject.toml").read_text("utf-8")
    rules = re.findall(r'^    "[A-Z]+\d*",.*$', text, re.MULTILINE)
    assert len(rules) > 10
    assert [rule for rule in rules if not re.search(r"# .{5,}", rule)] == []


def test_modules_are_short() -> None:
    long = {
        name: len(text.splitlines())
        for name, text in python_files().items()
        if not name.startswith("tests/") and len(text.splitlines()) > LONGEST_MODULE
    }
    assert long == {}


def test_links_of_the_pages_lead_somewhere() -> None:
    assert dead_links(pages()) == []


def test_a_dead_link_is_seen() -> None:
    page = "[one](nowhere.md) [two](README.md#top) [three](https://example.org/x.md)"
    assert dead_links({"planted.md": page}) == ["planted.md leads to nowhere.md"]


def test_the_changelog_has_a_place_for_what_comes() -> None:
    text = (ROOT / "CHANGELOG.md").read_text("utf-8")
    headings = re.findall(r"^## (.*)$", text, re.MULTILINE)
    assert headings[0] == "[Unreleased]"
    assert [h for h in headings[1:] if not re.fullmatch(r"\[\d+\.\d+\.\d+\] - \d{4}-\d{2}-\d{2}", h)] == []
    kinds = set(re.findall(r"^### (.*)$", text, re.MULTILINE))
    assert kinds <= {"Added", "Changed", "Deprecated", "Removed", "Fixed", "Security"}


def test_decision_records_are_numbered_mapped_and_of_one_shape() -> None:
    records = sorted((ROOT / "docs" / "decisions").glob("*.md"))
    assert [record.name[:5] for record in records] == [
        f"{number:04}-" for number in range(1, len(records) + 1)
    ]
    shapes = {r.name: re.findall(r"^## (.*)$", r.read_text("utf-8"), re.MULTILINE) for r in records}
    assert {
        name: shape for name, shape in shapes.items() if shape != ["Context", "Decision", "Consequences"]
    } == {}
    map_text = (ROOT / "docs" / "README.md").read_text("utf-8")
    assert [record.name for record in records if f"(decisions/{record.name})" not in map_text] == []
