"""The bytes that are hashed: the same as those of RFC 8785 by another hand, and nothing that two readers read differently."""

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from leanwright.book.canonical import LARGEST_WHOLE, canonical, checked, parse
from leanwright.errors import RefusedEntryError

TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn", "Zl", "Zp")), max_size=30)
KEYS = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_]{0,10}", fullmatch=True)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-LARGEST_WHOLE, LARGEST_WHOLE) | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=12,
)


@given(VALUES)
def test_bytes_are_those_of_rfc_8785(value: object) -> None:
    assert canonical(value) == rfc8785.dumps(value)  # type: ignore[arg-type]  # JSON


@given(VALUES)
def test_what_was_written_is_read_back(value: object) -> None:
    assert parse(canonical(value), "x") == value


def test_the_example_of_rfc_8785_without_its_numbers() -> None:
    # RFC 8785, 3.2.2: the text of the example, and the literals; its numbers are floats, which a book does not take.
    value = {"string": '€$\n A\'B"\\\\"/', "literals": [None, True, False]}
    written = '{"literals":[null,true,false],"string":"€$\\n A\'B\\"\\\\\\\\\\"/"}'
    assert canonical(value) == written.encode()


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b'{"a": 1.5}', "not-whole"),
        (b'{"a": 1e3}', "not-whole"),
        (b'{"a": NaN}', "not-whole"),
        (b'{"a": -Infinity}', "not-whole"),
        (b'{"a": 9007199254740992}', "too-long-number"),
        (b'{"a": 1, "a": 2}', "key-twice"),
        (b"{", "not-json"),
        (b"\xff\xfe{}", "not-text"),
        (b"[" * 100_000, "too-deep"),
        (b'"' + b"x" * (1 << 20) + b'"', "too-large"),
    ],
)
def test_json_that_two_readers_could_read_differently_is_refused(data: bytes, code: str) -> None:
    with pytest.raises(RefusedEntryError) as caught:
        parse(data, "entry.json")
    assert caught.value.code == code
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ({"text": "a\x07b"}, "control-character"),
        ({"text": "a\tb"}, "control-character"),
        ({"name": "two\nlines"}, "control-character"),
        ({"text": "left\u202eright"}, "control-character"),
        ({"text": "\ud800"}, "control-character"),
        ({"ключ": 1}, "bad-key"),
        ({f"k{number}": 1 for number in range(1001)}, "too-many-keys"),
        ({"a": 1.5}, "not-whole"),
    ],
)
def test_what_a_book_cannot_hold_is_refused(value: object, code: str) -> None:
    with pytest.raises(RefusedEntryError) as caught:
        checked(value)
    assert caught.value.code == code


def test_texts_are_composed_and_may_have_lines_where_people_write() -> None:
    assert checked({"text": "Mu\u0308ller\nline"}) == {"text": "Müller\nline"}


def test_too_deep_is_refused_before_it_hurts() -> None:
    value: object = 1
    for _ in range(40):
        value = [value]
    with pytest.raises(RefusedEntryError, match="deep"):
        checked(value)
