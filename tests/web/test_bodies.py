"""What a form sends is read whole within its limits, and refused one byte, field or file beyond them."""

import asyncio
from collections.abc import Iterable
from dataclasses import replace

import pytest
from starlette.requests import Request

from leanwright.web import refusal
from leanwright.web.bodies import FORM, UPLOAD, Sent, sent
from leanwright.web.limits import LIMITS, Limits
from leanwright.web.refusal import Refusal, RefusedError
from tests.web.wire import multipart

Fields = tuple[tuple[str, str], ...]


def posted(
    parts: Iterable[bytes], limits: Limits = LIMITS, kind: str = FORM, *, uploads: bool = False
) -> tuple[Fields, list[bytes]]:
    """Fields and files of a form whose body comes in parts."""
    messages = iter([{"type": "http.request", "body": part, "more_body": True} for part in parts])

    async def receive() -> dict[str, object]:
        return next(messages, {"type": "http.request", "body": b"", "more_body": False})

    async def read() -> tuple[Fields, list[bytes]]:
        headers = [(b"content-type", kind.encode())]
        request = Request({"type": "http", "method": "POST", "headers": headers}, receive)
        async with sent(request, uploads=uploads, limits=limits) as found:
            return found.fields, [await one.read() for one in found.files]

    return asyncio.run(read())


def refused(
    parts: Iterable[bytes], limits: Limits = LIMITS, kind: str = FORM, *, uploads: bool = False
) -> Refusal:
    with pytest.raises(RefusedError) as caught:
        posted(parts, limits, kind, uploads=uploads)
    return caught.value.refusal


def dropped(names: Iterable[str], fields: int = 0, content: bytes = b"1,2\n") -> tuple[str, bytes]:
    """The kind and the body of a form with files, and with so many fields."""
    kind, body = multipart("t" * 8, [(name, content) for name in names])
    mark = kind.partition("boundary=")[2]
    field = f'--{mark}\r\nContent-Disposition: form-data; name="a"\r\n\r\n1\r\n'
    return kind, (field * fields).encode() + body


def test_fields_keep_their_order_and_their_empty_values() -> None:
    assert posted([b"b=2&a=&", b"b=%C3%BC"]) == ((("b", "2"), ("a", ""), ("b", "ü")), [])
    assert posted([]) == ((), [])


def test_the_first_value_of_a_field_that_did_not_come_is_empty() -> None:
    assert Sent((("a", "1"), ("a", "2"))).first("a") == "1"
    assert Sent((("a", "1"),)).first("b") == ""


@pytest.mark.parametrize("body", [b"a", b"a=%FF", b"a=\xc3\xbc", b"a=1&&b"])
def test_what_is_no_form_is_refused(body: bytes) -> None:
    assert refused([body]) == refusal.FORM


def test_a_body_at_its_limit_is_taken_and_one_byte_more_is_not() -> None:
    limits = replace(LIMITS, form_bytes=10)
    assert posted([b"a=123", b"45678"], limits) == ((("a", "12345678"),), [])
    assert refused([b"a=123", b"456789"], limits) == refusal.TOO_BIG


def test_as_many_fields_as_the_limit_are_taken_and_one_more_is_not() -> None:
    limits = replace(LIMITS, form_fields=2)
    assert posted([b"a=1&b=2"], limits)[0] == (("a", "1"), ("b", "2"))
    assert refused([b"a=1&b=2&c=3"], limits) == refusal.FORM


def test_files_and_fields_of_an_upload_are_taken_up_to_their_limits() -> None:
    limits = replace(LIMITS, upload_files=2, form_fields=2, field_bytes=8)
    kind, body = dropped(["a.csv", "b.csv"], fields=1)
    assert posted([body], limits, kind, uploads=True) == (
        (("a", "1"), ("token", "t" * 8)),
        [b"1,2\n", b"1,2\n"],
    )
    for names, fields in ((["a.csv", "b.csv", "c.csv"], 1), (["a.csv"], 2)):
        kind, body = dropped(names, fields)
        assert refused([body], limits, kind, uploads=True) == refusal.FORM
    kind, body = dropped(["a.csv"])
    assert refused([body], replace(limits, field_bytes=7), kind, uploads=True) == refusal.FORM


def test_a_form_of_another_kind_or_with_files_where_none_are_meant_is_refused() -> None:
    kind, body = dropped(["a.csv"])
    assert kind.startswith(UPLOAD)
    assert refused([body], kind=kind) == refusal.KIND
    assert refused([b"{}"], kind="application/json") == refusal.KIND
