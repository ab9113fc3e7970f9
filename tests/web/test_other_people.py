"""Somebody else on the same machine is shown nothing and can do nothing (A9): another user of the system asks, and looks at the files."""

import json
import os
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.promises import TrialRun
from tests.web.conftest import opened, running
from tests.web.table import GETS, ODD, POSTS
from tests.web.wire import Browser

NOBODY = 65534
PYTHON = Path("/usr/bin/python3")
"""One that every user may start."""
ASKING = """
import http.client, json, os, pathlib, sys
port, folder, targets, headers, mine = json.load(sys.stdin)
def ask(method, target):
    wire = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    body = b"token=x" if method == "POST" else None
    kind = {"Content-Type": "application/x-www-form-urlencoded"} if body else {}
    wire.request(method, target, body, {**kind, **headers})
    answer = wire.getresponse()
    answer.read()
    wire.close()
    return answer.status
def read(place):
    try:
        return pathlib.Path(place).read_bytes() != b""
    except PermissionError:
        return False
def listed(place):
    try:
        return os.listdir(place)
    except PermissionError:
        return []
json.dump({"user": os.getuid(), "answers": [ask(*target) for target in targets], "read": [one for one in mine if read(one)],
           "listed": listed(folder)}, sys.stdout)
"""
pytestmark = [
    pytest.mark.promise("A9"),
    pytest.mark.skipif(
        os.name != "posix" or os.geteuid() != 0 or not PYTHON.exists(),
        reason="only the superuser can become somebody else here",
    ),
]


@pytest.fixture(scope="module")
def owner() -> Iterator[Browser]:
    """A browser of a server whose folder stands where everybody may look."""
    with tempfile.TemporaryDirectory() as place:
        Path(place).chmod(0o755)
        with running(Path(place)) as served:
            browser = opened(served)
            assert browser.post("/book/begin").status == 303
            yield browser


def asked(owner: Browser, targets: list[tuple[str, str]], headers: dict[str, str]) -> dict[str, object]:
    """What another user of this machine is answered, and which of the owner's files that user can read."""
    folder = owner.served.house.desk.folder
    mine = [str(one) for one in folder.parent.rglob("*") if one.is_file()]
    done = subprocess.run(
        [PYTHON, "-c", ASKING], input=json.dumps([owner.port, str(folder), targets, headers, mine]),
        user=NOBODY, group=NOBODY, extra_groups=[], cwd="/", capture_output=True, text=True, check=True, env={},
    )  # fmt: skip
    return dict(json.loads(done.stdout))


def test_another_user_of_the_machine_is_shown_nothing_and_reads_no_file(
    owner: Browser, trial_run: TrialRun
) -> None:
    targets = [*(("GET", target) for target in (*GETS, *ODD)), *(("POST", target) for target in POSTS)]
    found = asked(owner, targets, {})
    assert found["user"] == NOBODY
    answers = found.pop("answers")
    assert isinstance(answers, list)
    assert dict(zip(targets, answers, strict=True)) == {
        (method, target): 403 if target == ODD[1] else 401 for method, target in targets
    }
    assert found == {"user": NOBODY, "read": [], "listed": []}
    trial_run.measured("another user of the machine is refused everywhere", len(targets))


def test_canary_the_owners_own_session_is_answered(owner: Browser) -> None:
    found = asked(owner, [("GET", "/settings")], {"Cookie": owner.cookie, "Sec-Fetch-Site": "same-origin"})
    assert found["answers"] == [200]
