"""Cells that carry their unit, and messages that name the right unit, cell and length of time."""

from tests.recordings.test_meaning import channel, meanings, messages, near, read


def test_cells_that_state_their_unit_are_numbers_in_it() -> None:
    recording = read("EGT1,FF", lambda row: f"{1400 + row}°F", lambda row: f"{12 + row / 10:.1f} gph")
    assert meanings(recording) == [("egt", 1, "degF", "values"), ("fuel_flow", None, "gal/h", "values")]
    values = channel(recording, 0).values
    assert values is not None
    assert values[:3].tolist() == [1400.0, 1401.0, 1402.0]


def test_a_cell_with_another_unit_than_its_column_counts_as_missing() -> None:
    recording = read("EGT1", lambda row: "780 °C" if row == 7 else f"{1400 + row} °F")
    assert len(messages(recording, "cell-unreadable")) == 1


def test_a_cell_with_a_word_behind_its_number_is_no_number() -> None:
    recording = read("EGT1 (F)", lambda row: "12 broken" if row == 7 else 1400 + row)
    assert len(messages(recording, "cell-unreadable")) == 1


def test_the_example_for_strange_names_has_the_unit_that_the_values_fit() -> None:
    told = messages(read("Foo,Bar 1,Bar 2", near(50), near(1420), near(1430)), "names-not-understood")
    assert '--column "Bar 1=egt:1:degF"' in told[0]
    told = messages(read("Foo,Bar 1,Bar 2", near(50), near(770), near(780)), "names-not-understood")
    assert '--column "Bar 1=egt:1:degC"' in told[0]
