"""No name in an address reaches a file that is not meant (W6)."""

import itertools

import pytest

from leanwright.web.table import TABLE
from leanwright.web.visit import Entry
from tests.faults.promises import TrialRun
from tests.web.wire import Browser

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
LEAKS = (b"root:x:", b"SQLite format 3\0", b'"units":', b'"event":', b'"""', b"[fonts]")


def test_there_are_two_thousand_of_them() -> None:
    assert len(FORMS) >= 2000


@pytest.mark.parametrize("entry", NAMED, ids=lambda entry: entry.path)
def test_a_path_never_leaves_its_place(browser: Browser, entry: Entry, trial_run: TrialRun) -> None:
    (name,) = entry.example
    # The addresses with a name share the forms out; each form is sent to a third of them.
    sent = FORMS[NAMED.index(entry) % 3 :: 3]
    for form in sent:
        answer = browser.get(entry.path.replace("{" + name + "}", form))
        assert answer.status in {400, 404, 409}, form
        assert not any(leak in answer.body for leak in LEAKS), form
    trial_run.measured("0 bytes read outside", len(sent))
