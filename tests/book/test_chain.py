"""Hashes against published vectors, and heads that can be typed."""

import hashlib
import json
import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.book import chain
from leanwright.book.entry import decode, is_canonical, seal

# FIPS 180-4 test vectors (NIST's examples "SHA256": "abc", and the two-block message).
FIPS_180 = {
    b"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
}
# ISO 13616 examples of check digits by ISO/IEC 7064 MOD 97-10: text without its check digits, and these.
ISO_13616 = {"WEST12345698765432GB": "82", "370400440532013000DE": "89", "20041010050500013M02606FR": "14"}


@pytest.mark.parametrize(("data", "digest"), FIPS_180.items())
def test_the_hash_is_that_of_fips_180_4(data: bytes, digest: str) -> None:
    assert hashlib.sha256(data).hexdigest() == digest


def test_a_link_is_the_mark_the_hash_before_and_the_bytes() -> None:
    before = "11" * 32
    assert chain.link(b"\x01", before, b"abc") == hashlib.sha256(b"\x01" + b"\x11" * 32 + b"abc").hexdigest()
    assert chain.link(b"\x01", before, b"abc") != chain.link(b"\x02", before, b"abc")


@pytest.mark.parametrize(("signs", "digits"), ISO_13616.items())
def test_check_digits_are_those_of_iso_7064(signs: str, digits: str) -> None:
    assert chain.check_digits(signs) == digits


@given(st.binary(min_size=32, max_size=32))
def test_a_head_is_read_back_however_it_is_grouped(data: bytes) -> None:
    head = chain.short(data.hex())
    assert len(head) == chain.SHORT_LENGTH
    assert chain.readable(chain.grouped(head).lower()) == head
    assert chain.is_head(head, data.hex())


def test_the_published_vectors_are_reproduced() -> None:
    vectors = json.loads((Path(__file__).parents[1] / "references" / "book_vectors.json").read_text("utf-8"))
    previous = chain.genesis(vectors["ledger"])
    assert previous == vectors["genesis"]
    for one in vectors["entries"]:
        data = one["data"].encode()
        assert (is_canonical(data), decode(data).previous) == (True, previous)
        assert seal(json.loads(data)).data == data
        previous = chain.link(chain.ENTRY_MARK, previous, data)
        assert previous == one["hash"]


def test_one_wrong_sign_and_two_exchanged_ones_are_seen() -> None:
    draw = random.Random(4)  # noqa: S311  draws of a test, no secrets
    missed = 0
    for _ in range(2000):
        head = list(chain.short(draw.randbytes(32).hex()))
        place = draw.randrange(18)
        if draw.random() < 0.5:
            head[place] = draw.choice([sign for sign in chain.ALPHABET if sign != head[place]])
        elif head[place] != head[(place + 1) % 18]:
            other = (place + 1) % 18
            head[place], head[other] = head[other], head[place]
        else:
            continue
        missed += chain.readable("".join(head)) is not None
    # MOD 97-10 sees every single wrong sign; of exchanges of a digit and a letter it may miss about one in a hundred.
    assert missed <= 20


def test_the_short_form_is_the_first_ninety_bits_five_to_a_sign() -> None:
    head = "0123456789abcdef" * 4
    bits = f"{int(head, 16):0256b}"
    signs = "".join(chain.ALPHABET[int(bits[start : start + 5], 2)] for start in range(0, 90, 5))
    assert chain.short(head) == signs + chain.check_digits(signs)
    assert chain.short("f" * 64)[:18] == "Z" * 18


@pytest.mark.parametrize("typed", ["1010", "IOLO", "iolo", "Lo1O"])
def test_letters_that_are_misread_are_read_as_the_digits_that_they_look_like(typed: str) -> None:
    head = chain.short("08020" * 12 + "0802")  # 00001 00000 00001 00000, over and over
    assert head[:18] == "101010101010101010"
    assert chain.readable((typed * 5)[:18] + head[18:]) == head


def test_what_is_no_head_is_told_from_one() -> None:
    assert chain.readable("nonsense") is None
    assert chain.readable("A" * 64) == chain.readable(f"{'a' * 32}-{'A' * 31} a") == "a" * 64
    assert chain.readable("a" * 63) is chain.readable("a" * 65) is chain.readable("g" * 64) is None
    assert chain.readable("0000000000000000009") is chain.readable("000000000000000000980") is None
