"""What is too big, too slow or of another kind is refused before it fills anything (W9)."""

import itertools
import json
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path

import pytest

from leanwright.web.limits import KIB, LIMITS, MIB, Limits
from tests.faults.high_mark import risen
from tests.web.conftest import opened, running
from tests.web.table import POSTS
from tests.web.wire import Browser, exchange, multipart

pytestmark = pytest.mark.promise("W9")

RISE = 64 * MIB
PAST = 1 * MIB
"""So much more than its limit may be taken in before it is refused."""
MILLION = 1_000_000
FORM = "application/x-www-form-urlencoded"


@pytest.fixture(autouse=True)
def _memory_rises_little() -> Iterator[None]:
    """Client and server are one process: whatever is sent here, it may take so much more memory and no more."""
    with no_great_rise():
        yield


@contextmanager
def no_great_rise() -> Iterator[None]:
    rise = risen()
    yield
    assert rise() <= RISE, f"{rise() / MIB:.0f} MiB more"


def head(browser: Browser, target: str, *lines: str) -> bytes:
    own = (
        f"Host: 127.0.0.1:{browser.port}", f"Cookie: {browser.cookie}", "Sec-Fetch-Site: same-origin", "Connection: close",
    )  # fmt: skip
    return "\r\n".join([f"POST {target} HTTP/1.1", *own, *lines, "", ""]).encode()


def poured(browser: Browser, target: str, kind: str, begin: bytes, block: bytes) -> int:
    """How much of a body without end a server takes in before it closes the connection [bytes].

    What the system holds back for the sender counts as taken; it is told to hold little.
    """
    parts = itertools.chain([begin], itertools.repeat(block))
    taken = 0
    with socket.socket() as wire:
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 64 * KIB)
        wire.settimeout(20)
        wire.connect(("127.0.0.1", browser.port))
        wire.sendall(head(browser, target, f"Content-Type: {kind}", "Transfer-Encoding: chunked"))
        with suppress(BrokenPipeError, ConnectionResetError):
            for part in parts:
                wire.sendall(b"%x\r\n%s\r\n" % (len(part), part))
                taken += len(part)
    return taken


def test_canary_more_memory_is_seen_also_after_a_higher_rise() -> None:
    for rise in (3 * RISE, 2 * RISE):
        with pytest.raises(AssertionError, match="MiB more"), no_great_rise():
            len(b"\1" * rise)
    with no_great_rise():
        len(b"\1" * (RISE // 2))


@pytest.mark.parametrize("target", [*POSTS])
def test_a_body_that_is_told_to_be_too_big_is_refused_at_once(browser: Browser, target: str) -> None:
    request = head(
        browser, target, "Content-Type: application/x-www-form-urlencoded", f"Content-Length: {10**12}"
    )
    assert exchange(browser.port, request).status == 413


@pytest.mark.parametrize("target", POSTS)
def test_a_body_without_end_is_cut_at_the_limit(browser: Browser, target: str) -> None:
    taken = poured(browser, target, FORM, b"token=", b"a" * 16 * KIB)
    assert taken <= LIMITS.form_bytes + PAST


def test_a_file_without_end_is_cut_at_the_limit(tmp_path: Path) -> None:
    with running(tmp_path, replace(LIMITS, upload_bytes=64 * KIB, form_bytes=8 * KIB)) as served:
        browser = opened(served)
        kind, whole = multipart(browser.token, [("flight.csv", b"")])
        begin = whole.rpartition(b"\r\n------")[0].rpartition(b"\r\n------")[0]
        taken = poured(browser, "/recordings", kind, begin, b"1,2\n" * 4 * KIB)
        assert taken <= 72 * KIB + PAST
        assert list((tmp_path / "desk" / "files").iterdir()) == []


def test_a_million_fields_are_refused(browser: Browser) -> None:
    whole = b"&field=1" * MILLION
    told = head(browser, "/settings", f"Content-Type: {FORM}", f"Content-Length: {len(whole)}")
    assert exchange(browser.port, told).status == 413
    for fields in (whole[:900_000], b"&" * MILLION, b"a&" * (MILLION // 2), b"token=&" * (MILLION // 7)):
        assert browser.ask("POST", "/settings", body=fields).status in {400, 403, 422}, fields[:20]


def test_a_million_parts_are_refused(browser: Browser) -> None:
    kind, _ = multipart(browser.token, [])
    part = b'------0123456789abcdef\r\nContent-Disposition: form-data; name="a"\r\n\r\n1\r\n'
    taken = poured(browser, "/recordings", kind, b"", part * 200)
    assert taken <= min(MILLION * len(part), LIMITS.form_fields * len(part) + PAST)


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


def test_canary_what_is_just_within_the_limit_is_taken(browser: Browser) -> None:
    assert browser.ask("GET", "/settings?" + "a" * (LIMITS.target_bytes - 10)).status == 200
    assert browser.ask("GET", "/settings", {"X-Long": "a" * (LIMITS.header_bytes - 1000)}).status == 200
    pads = {f"pad{number}": "a" * (LIMITS.field_bytes - 100) for number in range(4)}
    body = browser.form(**pads, rest="")
    rest = b"a" * (LIMITS.form_bytes - len(body))
    # It is taken in and looked at: settings have no such fields.
    assert browser.ask("POST", "/settings", body=body + rest).status == 422
    assert browser.ask("POST", "/settings", body=body + rest + b"a").status == 413


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
