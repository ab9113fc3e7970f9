"""Every threshold of the search for sweeps has its reason on the theory page."""

import re
from pathlib import Path
from types import ModuleType

import pytest

from leanwright.analysis import flight, lever, limits, steadiness, sweep, trace

PAGE = (Path(__file__).parents[2] / "docs" / "theory" / "sweeps.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "module", [flight, trace, lever, limits, steadiness, sweep], ids=lambda m: m.__name__
)
def test_each_threshold_is_named_on_the_page(module: ModuleType) -> None:
    named = set(re.findall(r"`([A-Z][A-Z_]+)`", PAGE))
    assert [name for name in vars(module) if name.isupper() and name not in named] == []
