"""Limits of the flight manual, as the owner typed them."""

from pathlib import Path

import pytest

from leanwright.analysis.flight_card import Limit, Limits
from leanwright.errors import UnusableLimitsError
from leanwright.workbench.limit_files import LIMITS, read_limits

TOP = 'format = "leanwright/limits/1"\ndocument = "Manual (invented)"\n'


def write(folder: Path, text: str) -> Path:
    place = folder / "limits.toml"
    place.write_text(text, "utf-8")
    return place


def test_the_example_is_read_as_it_stands(tmp_path: Path) -> None:
    assert read_limits(write(tmp_path, LIMITS.example)) == Limits(
        "Flight manual of the Hollowbrook Tarn (invented)",
        "4",
        (
            Limit("CHT", "°F", most=420),
            Limit("power for leaning", "percent", most=65),
            Limit("height over ground", "ft", least=3000),
        ),
    )


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (TOP, "has no [[limit]]"),
        (TOP + '[[limit]]\nwhat = "CHT"\nmost = 420\n', "lacks the field 'unit'"),
        (TOP + '[[limit]]\nwhat = "CHT"\nunit = " "\nmost = 420\n', "gives no unit"),
        (TOP + '[[limit]]\nwhat = "CHT"\nunit = "°F"\n', "(line 3) gives neither most nor least"),
        (
            TOP + '[[limit]]\nwhat = "CHT"\nunit = "°F"\nmost = 1\nleast = 2\n',
            "most 1, which is below least 2",
        ),
        (TOP + '[[limit]]\nwhat = "CHT"\nunit = "°F"\nmost = "hot"\n', "most is 'hot'"),
    ],
)
def test_what_makes_no_sense_is_refused_with_its_place(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(UnusableLimitsError) as refused:
        read_limits(write(tmp_path, text))
    assert told in str(refused.value)
