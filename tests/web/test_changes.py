"""Nothing is changed by a page that is not ours, without the session's token, or by looking (W3, A9)."""

import hashlib
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from leanwright.web.app import OPEN
from leanwright.web.keys import Keys
from leanwright.web.limits import Limits
from leanwright.web.run import Served
from leanwright.web.table import TABLE
from leanwright.workbench.invent import write_first_flight
from tests.faults.promises import TrialRun
from tests.web.conftest import opened, running
from tests.web.table import GETS, POSTS
from tests.web.wire import Browser, multipart

FORGED: dict[str, dict[str, str | None]] = {
    "another site": {"Sec-Fetch-Site": "cross-site", "Origin": "http://example.org"},
    "another site that names our origin": {"Sec-Fetch-Site": "cross-site"},
    "another port of this machine": {"Sec-Fetch-Site": "same-site", "Origin": "http://127.0.0.1:1"},
    "another port that names no origin": {"Sec-Fetch-Site": "same-site"},
    "typed or from a mail": {"Sec-Fetch-Site": "none"},
    "an odd word": {"Sec-Fetch-Site": "Same-Origin"},
    "an old browser on a foreign page": {"Sec-Fetch-Site": None, "Origin": "http://example.org"},
    "an old browser on another port": {"Sec-Fetch-Site": None, "Origin": "http://127.0.0.1:1"},
    "an old browser on a page without origin": {"Sec-Fetch-Site": None, "Origin": "null"},
    "a program with the cookie": {"Sec-Fetch-Site": None},
    "a foreign origin beside a good word": {"Origin": "http://example.org"},
}


TYPED: dict[str, dict[str, str]] = {
    "/book/notes": {"text": "second", "key": "1" * 32},
    "/book/entries/1/void": {"reason": "tried", "key": "2" * 32},
    "/book/backups": {},
    "/settings": {"units": "metric", "language": "de", "look": "dark"},
}
"""Forms with which the page itself changes something."""


def snapshot(folder: Path) -> dict[str, str]:
    return {
        str(place.relative_to(folder)): hashlib.sha256(place.read_bytes()).hexdigest()
        for place in sorted(folder.rglob("*"))
        if place.is_file() and "log" not in place.parts and not place.name.startswith("book.sqlite")
    }


@pytest.fixture(scope="module")
def owner(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A browser of a server with a recording and a book."""
    with running(tmp_path_factory.mktemp("owned")) as served:
        yield begun(served)


def begun(served: Served) -> Browser:
    browser = opened(served)
    flight = write_first_flight(served.house.desk.folder.parent).read_bytes()
    assert browser.drop(("flight.csv", flight)).status == 200
    assert browser.post("/book/begin").status == 303
    assert browser.post("/book/notes", text="first", key="0" * 32).status == 303
    return browser


def sent(browser: Browser, target: str) -> bytes:
    """A form that the page itself would be answered with more than a mistake in it."""
    return browser.form(**TYPED.get(target, {}))


def state(browser: Browser) -> tuple[str, dict[str, str]]:
    """The head of the book, and every file beside it."""
    with browser.served.house.book.using() as book:
        head = book.head()
    return head, snapshot(browser.served.house.desk.folder.parent)


@pytest.mark.promise("W3")
@pytest.mark.parametrize("case", FORGED)
def test_a_change_from_elsewhere_is_refused_and_changes_nothing(
    owner: Browser, case: str, trial_run: TrialRun
) -> None:
    before = state(owner)
    for target in POSTS:
        for headers in (
            FORGED[case],
            {**FORGED[case], "X-HTTP-Method-Override": "POST", "X-Token": owner.token},
        ):
            assert owner.ask("POST", target, headers, sent(owner, target)).status == 403, target
    assert state(owner) == before
    trial_run.measured("all refused, nothing changed", 2 * len(POSTS))


@pytest.mark.promise("W3")
def test_a_change_without_the_right_token_is_refused_and_changes_nothing(
    owner: Browser, trial_run: TrialRun
) -> None:
    other = opened(owner.served)
    before = state(owner)
    for target in POSTS:
        for body in (b"", b"token=", b"token=wrong", sent(other, target)):
            assert owner.ask("POST", target, body=body).status in {400, 403}, (target, body)
        kind, body = multipart("wrong", [("flight.csv", b"1,2\n")])
        assert owner.ask("POST", target, {"Content-Type": kind}, body).status in {403, 415}, target
        for kind, body in (("text/plain", owner.form()), ("application/json", b'{"token":"x"}')):
            assert owner.ask("POST", target, {"Content-Type": kind}, body).status == 415, target
    assert state(owner) == before
    trial_run.measured("all refused, nothing changed", 7 * len(POSTS))


@pytest.mark.promise("W3")
def test_canary_the_same_from_the_page_itself_is_taken(tmp_path: Path) -> None:
    with running(tmp_path) as served:
        browser = begun(served)
        for target in TYPED:
            before = state(browser)
            assert browser.ask("POST", target, body=sent(browser, target)).status in {200, 303}, target
            assert state(browser) != before, target
        answered = {target: browser.ask("POST", target, body=browser.form()).status for target in POSTS}
    assert not {400, 401, 403, 415} & set(answered.values()), answered


@pytest.mark.promise("A9")
@pytest.mark.parametrize("target", POSTS)
def test_without_a_session_nothing_is_done_or_shown(browser: Browser, target: str) -> None:
    for cookie in (None, f"{browser.served.house.place.cookie}=wrong", "other=1"):
        assert browser.ask("POST", target, {"Cookie": cookie}, browser.form()).status in {401, 403}
        assert browser.ask("GET", target, {"Cookie": cookie}).status == 401


@pytest.mark.promise("A9")
@pytest.mark.parametrize("target", GETS)
def test_no_page_or_file_is_shown_without_a_session(browser: Browser, target: str) -> None:
    answer = browser.ask("GET", target, {"Cookie": None})
    assert answer.status == 401
    assert b"/static/" not in answer.body
    assert browser.ask("GET", target, {"Cookie": f"{browser.cookie}; {browser.cookie}x"}).status in {
        200,
        401,
        404,
        409,
    }
    assert browser.ask("GET", target, doubled=[("Cookie", browser.cookie)]).status == 401


@pytest.mark.promise("W3")
@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND"])
def test_other_methods_are_refused(browser: Browser, method: str) -> None:
    assert browser.ask(method, "/settings").status in {400, 405}


@pytest.mark.promise("W3")
@pytest.mark.parametrize("target", POSTS)
def test_looking_at_what_changes_something_does_nothing(browser: Browser, target: str) -> None:
    shows = any(entry.get for entry in TABLE if entry.path.format(**entry.example) == target)
    for method in ("GET", "HEAD"):
        assert shows or browser.ask(method, f"{target}?token={browser.token}").status == 405


@pytest.mark.promise("W3")
def test_looking_changes_nothing(fresh: Browser, flight: bytes) -> None:
    fresh.drop(("flight.csv", flight))
    folder = fresh.served.house.desk.folder.parent
    before = snapshot(folder)
    (recording,) = {place.name for place in (folder / "desk" / "recordings").iterdir()}
    for entry in TABLE:
        if entry.get:
            target = entry.path.format(
                **{**entry.example, **({"recording": recording} if "recording" in entry.example else {})}
            )
            assert fresh.get(
                f"{target}?r={recording}&before={recording}&after={recording}&saved=1"
            ).status in {200, 404, 409}
    assert snapshot(folder) == before


@pytest.mark.promise("A9")
def test_a_one_time_address_works_once(served: Served, browser: Browser) -> None:
    path = "/" + served.new_address().split("/", 3)[3]
    assert len(path.removeprefix(OPEN)) >= 22  # 128 bits and more in letters of six bits
    assert browser.ask("HEAD", path, {"Cookie": None}).status in {401, 405}
    first = browser.ask("GET", path, {"Cookie": None})
    assert (first.status, first.header("location")) == (303, "/")
    assert {"HttpOnly", "Path=/", "SameSite=strict"} <= set(first.header("set-cookie").split("; "))
    assert "Domain" not in first.header("set-cookie")
    assert browser.ask("GET", path, {"Cookie": None}).status == 403
    assert browser.ask("GET", f"{OPEN}guess", {"Cookie": None}).status == 403


@pytest.mark.promise("A9")
def test_a_one_time_address_is_good_for_a_minute_and_a_session_for_a_while() -> None:
    now = 1000.0
    keys = Keys(clock=lambda: now)
    old, young = keys.new_link(), keys.new_link()
    now += 59.9
    secret = keys.open_link(young)
    assert secret is not None
    now += 0.2
    assert keys.open_link(old) is None
    for _ in range(11 * 60):
        now += 60.0
        assert keys.session(secret) is not None
    now += 3600.0
    assert keys.session(secret) is None


def test_no_session_outlives_half_a_day_however_busy() -> None:
    now = 0.0
    keys = Keys(clock=lambda: now)
    secret = keys.open_link(keys.new_link())
    assert secret is not None
    lived = 0.0
    while keys.session(secret) is not None:
        lived, now = now, now + 300.0
    assert 12 * 3600.0 - 300.0 <= lived < 12 * 3600.0


def test_the_least_used_session_makes_room() -> None:
    keys = Keys(Limits(sessions=2), clock=time.monotonic)
    secrets = [keys.open_link(keys.new_link()) or "" for _ in range(3)]
    assert [keys.session(secret) is not None for secret in secrets] == [False, True, True]


def test_leaving_ends_the_session(served: Served) -> None:
    leaving = opened(served)
    assert leaving.post("/leave").status == 200
    assert leaving.get("/").status == 401
