"""What is too big, too slow or of another kind is refused before it fills anything (W9)."""

import itertools
import json
import resource
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from leanwright.web.limits import KIB, LIMITS, MIB, Limits
from tests.web.conftest import opened, running
from tests.web.table import POSTS
from tests.web.wire import Browser, exchange, multipart

pytestmark = pytest.mark.promise("W9")

RISE = 64 * MIB


def peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * KIB


def head(browser: Browser, target: str, *lines: str) -> bytes:
    own = (
        f"Host: 127.0.0.1:{browser.port}", f"Cookie: {browser.cookie}", "Sec-Fetch-Site: same-origin", "Connection: close",
    )  # fmt: skip
    return "\r\n".join([f"POST {target} HTTP/1.1", *own, *lines, "", ""]).encode()


def chunks(browser: Browser, target: str, kind: str, count: int) -> Iterator[bytes]:
    yield head(browser, target, f"Content-Type: {kind}", "Transfer-Encoding: chunked")
    block = b"%x\r\n%s\r\n" % (64 * KIB, b"a" * 64 * KIB)
    yield from itertools.repeat(block, count)


@pytest.mark.parametrize("target", [*POSTS])
def test_a_body_that_is_told_to_be_too_big_is_refused_at_once(browser: Browser, target: str) -> None:
    request = head(
        browser, target, "Content-Type: application/x-www-form-urlencoded", f"Content-Length: {10**12}"
    )
    assert exchange(browser.port, request).status == 413


def test_a_body_without_end_is_cut_at_the_limit(browser: Browser) -> None:
    before = peak()
    answer = exchange(browser.port, chunks(browser, "/settings", "application/x-www-form-urlencoded", 4000))
    assert answer.status in {0, 413}  # 0: the answer was lost with the connection that the server closed
    assert peak() - before < RISE


def test_a_million_fields_are_refused(browser: Browser) -> None:
    before = peak()
    body = b"&".join(b"f%d=1" % number for number in range(100_000))
    assert browser.ask("POST", "/settings", body=body).status == 400
    kind, sent = multipart(browser.token, [])
    part = b'------0123456789abcdef\r\nContent-Disposition: form-data; name="a"\r\n\r\n1\r\n'
    assert browser.ask("POST", "/recordings", {"Content-Type": kind}, part * 10_000 + sent).status == 400
    assert peak() - before < RISE


def test_deep_json_and_packed_bodies_are_not_taken_in(browser: Browser) -> None:
    deep = b"[" * 100_000 + b"]" * 100_000
    assert browser.ask("POST", "/settings", {"Content-Type": "application/json"}, deep).status == 415
    for packing in ("gzip", "br", "deflate", "gzip, gzip"):
        assert browser.ask("POST", "/settings", {"Content-Encoding": packing}, browser.form()).status == 415


def test_deep_json_in_a_field_is_refused(browser: Browser) -> None:
    browser.post("/book/begin")
    browser.post("/book/notes", text="first", key="0" * 32)
    for body in ("[" * 50_000, '{"a":' * 40_000, json.dumps({"text": ["x"] * 10})):
        answer = browser.post("/book/entries/1/correct", body=body, reason="trying", key="1" * 32)
        assert answer.status == 422, answer.text[:500]


@pytest.mark.parametrize(
    ("headers", "target", "status"),
    [
        ({f"X-{number}": "1" for number in range(100)}, "/", {431}),
        ({"X-Long": "a" * (LIMITS.header_bytes + 1)}, "/", {400, 431}),
        ({}, "/?" + "a" * LIMITS.target_bytes, {414}),
        ({"Content-Length": "-1"}, "/", {400}),
        ({"Content-Length": "abc"}, "/", {400}),
    ],
)
def test_heads_beyond_the_limits_are_refused(
    browser: Browser, headers: dict[str, str], target: str, status: set[int]
) -> None:
    assert browser.ask("GET", target, headers).status in status


def test_just_below_the_limit_is_answered(browser: Browser) -> None:
    assert browser.ask("GET", "/settings?" + "a" * (LIMITS.target_bytes - 10)).status == 200
    assert browser.ask("GET", "/settings", {"X-Long": "a" * (LIMITS.header_bytes - 1000)}).status == 200


def test_a_file_beyond_the_limit_is_refused_and_nothing_is_kept(tmp_path: Path) -> None:
    small: Limits = replace(LIMITS, upload_bytes=64 * KIB, form_bytes=8 * KIB)
    with running(tmp_path, small) as served:
        browser = opened(served)
        answer = browser.drop(("flight.csv", b"1,2\n" * 40_000))
        assert answer.status in {0, 413}
        assert list((tmp_path / "desk" / "files").iterdir()) == []
        assert browser.get("/").status == 200


def test_a_body_that_stops_coming_is_given_up(tmp_path: Path) -> None:
    with running(tmp_path, replace(LIMITS, idle_s=0.3)) as served:
        browser = opened(served)
        request = head(
            browser, "/settings", "Content-Type: application/x-www-form-urlencoded", "Content-Length: 100"
        )
        assert exchange(browser.port, request + b"token=").status == 408


def test_too_many_at_once_are_told_to_come_again(tmp_path: Path) -> None:
    with running(tmp_path, replace(LIMITS, at_once=0)) as served:
        answer = exchange(
            served.house.place.port,
            f"GET {served.new_address().split(str(served.house.place.port))[1]} HTTP/1.1\r\nHost: 127.0.0.1:{served.house.place.port}\r\n\r\n".encode(),
        )
    assert (answer.status, answer.header("retry-after")) == (503, "2")
