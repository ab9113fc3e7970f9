"""Every answer carries the protective headers, and none tells who made it (W4)."""

import pytest

from leanwright.web.headers import DOWNLOAD_POLICY, POLICY
from tests.web.table import GETS, ODD, POSTS
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
def test_every_answer_is_protected(browser: Browser, target: str) -> None:
    for answer in (
        browser.get(target),
        browser.ask("HEAD", target),
        browser.ask("GET", target, {"Cookie": None}),
        browser.ask("GET", target, {"Host": "example.org"}),
        browser.ask("PUT", target),
        browser.ask("POST", target, body=b"a=b"),
        browser.ask("POST", target, {"Sec-Fetch-Site": "cross-site"}, browser.form()),
        browser.ask("POST", target, {"Accept": "application/json"}, browser.form(no_such_field="1")),
        browser.ask("GET", target + "?" + "a" * 5000),
    ):
        check(answer)


def test_the_policy_begins_from_nothing_and_allows_no_inline_script() -> None:
    assert POLICY.startswith("default-src 'none'")
    assert "unsafe" not in POLICY
    assert "frame-ancestors 'none'" in POLICY
    assert "sandbox" in DOWNLOAD_POLICY
