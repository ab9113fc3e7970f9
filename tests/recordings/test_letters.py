"""Cylinders named by letters are told by all names together, and that is said; a lone letter stays a unit."""

from tests.recordings.test_meaning import meanings, messages, near, read


def test_letters_in_a_row_are_cylinders_and_never_units() -> None:
    names = ",".join(f"EGT-{letter}" for letter in "ABCDEF")
    recording = read(names, *[near(1400 + n) for n in range(6)])
    assert meanings(recording) == [("egt", n, "degF", "values") for n in range(1, 7)]
    assert messages(recording, "cylinders-by-letter") == [
        (
            "'EGT-A' to 'EGT-F' are taken as cylinders 1 to 6, in the order of their letters. If they are others, say so: "
            '--column "EGT-A=egt:1", and so on.'
        )
    ]


def test_a_unit_behind_the_letter_still_counts() -> None:
    names = ",".join(f"CHT {letter} (°C)" for letter in "ABCD")
    assert meanings(read(names, *[near(170)] * 4)) == [("cht", n, "degC", "header") for n in range(1, 5)]


def test_fewer_letters_or_a_gap_prove_no_order() -> None:
    for letters in ("ABC", "ABDE", "CDEF"):
        names = ",".join(f"EGT-{letter}" for letter in letters)
        assert messages(read(names, *[near(1400)] * len(letters)), "cylinders-by-letter") == []


def test_a_lone_letter_is_a_unit() -> None:
    recording = read("EGT1 F,EGT2 F,EGT3 F,EGT4 F", *[near(1400)] * 4)
    assert meanings(recording) == [("egt", n, "degF", "header") for n in range(1, 5)]


def test_the_users_word_goes_before_the_letter() -> None:
    names = ",".join(f"EGT-{letter}" for letter in "ABCD")
    recording = read(names, *[near(1400)] * 4, corrections=["EGT-A=egt:6"])
    assert [meaning[1] for meaning in meanings(recording)] == [6, 2, 3, 4]


def test_a_message_names_a_quantity_in_words() -> None:
    recording = read("EGT1 (C),EGT2 (F),EGT3 (F)", near(1420), near(1420), near(1420))
    assert not any("Quantity(" in finding.message for finding in recording.findings)
