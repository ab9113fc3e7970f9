"""Every answer carries the protective headers, and none tells who made it (W4)."""

from dataclasses import replace
from pathlib import Path

import pytest

from leanwright.web import run
from leanwright.web.app import make_app
from leanwright.web.headers import DOWNLOAD_POLICY, POLICY
from leanwright.web.house import House
from leanwright.web.limits import LIMITS
from leanwright.web.table import TABLE
from tests.faults.promises import TrialRun
from tests.web.conftest import opened, running
from tests.web.table import GETS, ODD, POSTS
from tests.web.test_faults import raising
from tests.web.wire import Browser, Heard

pytestmark = pytest.mark.promise("W4")

COMMON = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


def check(answer: Heard) -> None:
    names = [name.lower() for name, _ in answer.headers]
    assert {name: answer.header(name) for name in COMMON} == COMMON
    assert answer.header("content-security-policy") in {POLICY, DOWNLOAD_POLICY}
    assert not {"server", "x-powered-by", "via"} & set(names)
    assert [name for name in names if names.count(name) > 1] == []
    if answer.body:
        kind = answer.header("content-type")
        assert "charset=utf-8" in kind or kind in {
            "application/json",
            "application/octet-stream",
            "font/woff2",
            "application/pdf",
            "application/zip",
        }
    assert b"uvicorn" not in answer.body.lower()
    assert b"starlette" not in answer.body.lower()


@pytest.mark.parametrize("target", [*GETS, *ODD, *POSTS])
def test_every_answer_is_protected(browser: Browser, target: str, trial_run: TrialRun) -> None:
    answers = (
        browser.get(target),
        browser.ask("HEAD", target),
        browser.ask("GET", target, {"Cookie": None}),
        browser.ask("GET", target, {"Host": "example.org"}),
        browser.ask("PUT", target),
        browser.ask("POST", target, body=b"a=b"),
        browser.ask("POST", target, {"Sec-Fetch-Site": "cross-site"}, browser.form()),
        browser.ask("POST", target, {"Accept": "application/json"}, browser.form(no_such_field="1")),
        browser.ask("GET", target + "?" + "a" * 5000),
    )
    for answer in answers:
        check(answer)
    trial_run.measured("every answer carries them", len(answers))


def test_every_error_is_protected(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, trial_run: TrialRun
) -> None:
    def with_faults(house: House) -> object:
        return make_app(house, [*TABLE, *faults])

    faults = [raising(number) for number in range(8)]
    monkeypatch.setattr(run, "make_app", with_faults)
    # No body may keep others waiting, and no import is taken.
    limits = replace(LIMITS, idle_s=0.2, imports_waiting=-LIMITS.imports_at_once)
    with running(tmp_path, limits) as served:
        browser = opened(served)
        answers = (
            *(browser.get(fault.path) for fault in faults),
            browser.ask("GET", "/", {f"X-{number}": "1" for number in range(100)}),
            browser.get("/?" + "a" * LIMITS.target_bytes),
            browser.ask("POST", "/settings", {"Content-Length": str(10**12)}),
            browser.ask("POST", "/settings", {"Content-Length": "100"}, b"token="),
            browser.drop(("flight.csv", b"1,2\n")),
        )
    for answer in answers:
        check(answer)
    assert {answer.status for answer in answers} == {500, 503, 431, 414, 413, 408, 429}
    trial_run.measured("every error carries them", len(answers))


def test_canary_an_answer_without_one_of_them_is_caught(browser: Browser) -> None:
    whole = browser.get("/settings")
    check(whole)
    for name in (*COMMON, "content-security-policy"):
        without = [header for header in whole.headers if header[0].lower() != name]
        assert len(without) == len(whole.headers) - 1
        with pytest.raises(AssertionError):
            check(replace(whole, headers=without))
    for more in (("Server", "any"), ("Cache-Control", "no-store")):
        with pytest.raises(AssertionError):
            check(replace(whole, headers=[*whole.headers, more]))


def test_the_policy_begins_from_nothing_and_allows_no_inline_script() -> None:
    assert POLICY.startswith("default-src 'none'")
    assert "unsafe" not in POLICY
    assert "frame-ancestors 'none'" in POLICY
    assert "sandbox" in DOWNLOAD_POLICY
