"""No name in an address reaches a file that is not meant (W6)."""

import itertools
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote

import pytest

from leanwright.web.table import TABLE
from leanwright.web.visit import Entry
from leanwright.workbench.invent import write_first_flight
from tests.faults.promises import TrialRun
from tests.web.conftest import opened, running
from tests.web.wire import Browser, kept

pytestmark = pytest.mark.promise("W6")

UP = [
    "..",
    "%2e%2e",
    "%2E.",
    ".%2e",
    "%252e%252e",
    "..%00",
    "%c0%ae%c0%ae",
    "..;",
    "....",
    "%uff0e%uff0e",
    "..%ff",
]
SLASH = ["/", "%2f", "%5c", "\\", "%252f", "%c0%af", "//", "/./", "%2f%2f"]
ENDS = [
    "etc/passwd",
    "book.sqlite",
    "preferences.json",
    "log%2fserve.jsonl",
    "app.py",
    "etc%2fpasswd%00.css",
    "C:%5cWindows%5cwin.ini",
]
DEPTHS = (1, 3, 8)
FORMS = [
    slash.join([up] * depth) + slash + end
    for up, slash, depth, end in itertools.product(UP, SLASH, DEPTHS, ENDS)
]
NAMED = [entry for entry in TABLE if entry.get and entry.example]
TAKING = [entry for entry in TABLE if entry.post and entry.example]
SENT: dict[str, dict[str, str]] = {
    "/imports/{import}/stop": {},
    "/recordings/{recording}/columns": {"column": "1", "quantity": "egt", "cylinder": "1", "unit": "degF"},
    "/recordings/{recording}/sweeps": {"what": "drop", "start": "0:22:30", "reason": "tried"},
    "/recordings/{recording}/sweeps/back": {"number": "0"},
    "/recordings/{recording}/away": {},
    "/papers/{kind}": {},
    "/papers/{kind}/file": {},
    "/papers/{kind}/book": {},
    "/papers/{kind}/away": {},
    "/book/entries/{entry}/correct": {"reason": "tried", "key": "0" * 32, "body": '{"text": "a"}'},
    "/book/entries/{entry}/void": {"reason": "tried", "key": "0" * 32},
    "/book/new/{kind}": {"key": "0" * 32, "by": "Ada Example"},
}
"""A form for each address with a name, so that only the name is wrong."""
LEAKS = (b"root:x:", b"SQLite format 3\0", b'"units":', b'"event":', b'"""', b"[fonts]", b"planted")
SHARE = 30
"""A sample sends each address that takes a form one in so many of the names."""


@pytest.fixture(scope="module")
def outside(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with files that nobody may have; the server keeps its own three folders below."""
    folder = tmp_path_factory.mktemp("outside")
    for end in ENDS:
        place = folder / unquote(end).replace("\0", "")
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text("planted", "utf-8")
    return folder


@pytest.fixture(scope="module")
def owner(outside: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A browser of a server with a recording, a book and a backup."""
    home = outside / "one" / "two" / "home"
    home.mkdir(parents=True)
    flight = write_first_flight(tmp_path_factory.mktemp("flight")).read_bytes()
    with running(home) as served:
        browser = opened(served)
        assert browser.drop(("flight.csv", flight)).status == 200
        for target, fields in (
            ("/book/begin", {}),
            ("/book/notes", {"text": "first", "key": "1" * 32}),
            ("/book/backups", {}),
        ):
            assert browser.post(target, **fields).status in {200, 303}
        yield browser


def there(folder: Path) -> dict[str, tuple[int, int]]:
    """Every file below a folder with its size and when it was written, but for the log and the book's own beside it."""
    return {
        str(place.relative_to(folder)): (place.stat().st_size, place.stat().st_mtime_ns)
        for place in folder.rglob("*")
        if place.is_file() and "log" not in place.parts and not place.name.startswith("book.sqlite-")
    }


def test_there_are_two_thousand_of_them() -> None:
    assert len(FORMS) >= 2000
    assert SENT.keys() == {entry.path for entry in TAKING}


def stays(owner: Browser, outside: Path, method: str, path: str, forms: list[str], body: bytes = b"") -> None:
    """Send every form of a name: each is refused, tells nothing, and leaves every file as it was."""
    before = there(outside)
    with kept(owner) as ask:
        for form in forms:
            answer = ask(method, path.replace(path[path.index("{") : path.index("}") + 1], form), body=body)
            assert answer.status in {400, 404, 409}, form
            assert not any(leak in answer.body for leak in LEAKS), form
    assert there(outside) == before


@pytest.mark.parametrize("entry", NAMED, ids=lambda entry: entry.path)
def test_a_path_never_leaves_its_place(
    outside: Path, owner: Browser, entry: Entry, trial_run: TrialRun
) -> None:
    # The addresses with a name share the forms out; in a sample each form is sent to a third of them.
    sent = FORMS if trial_run.is_long else FORMS[NAMED.index(entry) % 3 :: 3]
    stays(owner, outside, "GET", entry.path, sent)
    trial_run.measured("0 bytes read or written outside", len(sent))


@pytest.mark.parametrize("entry", TAKING, ids=lambda entry: entry.path)
def test_a_form_sent_to_a_path_never_leaves_its_place(
    outside: Path, owner: Browser, entry: Entry, trial_run: TrialRun
) -> None:
    sent = FORMS if trial_run.is_long else FORMS[TAKING.index(entry) :: SHARE]
    stays(owner, outside, "POST", entry.path, sent, owner.form(**SENT[entry.path]))
    trial_run.measured("0 bytes read or written outside", len(sent))


def test_canary_a_right_name_is_served(outside: Path, owner: Browser) -> None:
    desk = owner.served.house.desk.folder
    (recording,) = (place.name for place in (desk / "recordings").iterdir())
    (backup,) = (place.name for place in (desk / "backups").iterdir())
    right = {"name": "style.css", "recording": recording, "kind": "aircraft", "entry": "1"}
    served = {
        entry.path: owner.get(entry.path.format(**right)).status
        for entry in NAMED
        if entry.path
        not in {"/book/backups/{name}", "/book/new/{kind}", "/imports/{import}", "/sheets/{kind}"}
    }
    served["/book/backups/{name}"] = owner.get(f"/book/backups/{backup}").status
    served["/book/new/{kind}"] = owner.get("/book/new/person").status
    assert served.pop("/papers/{kind}/file") == 404, "there is no paper yet"
    assert set(served.values()) == {200}, served
    before = there(outside)
    assert owner.post(f"/recordings/{recording}/away").status == 303
    assert there(outside) != before, "what is written is seen"
