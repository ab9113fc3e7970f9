"""Every threshold of the search for sweeps and of the peaks has its reason on a theory page."""

import re
from pathlib import Path
from types import ModuleType

import pytest

from leanwright.analysis import (
    excerpt,
    flight,
    flow_path,
    lever,
    limits,
    passage,
    peak,
    peak_fit,
    peak_joint,
    peak_noise,
    peak_start,
    peak_status,
    power_level,
    probe_signal,
    steadiness,
    sweep,
    trace,
    unknowns,
    witness,
)

THEORY = Path(__file__).parents[2] / "docs" / "theory"
PAGES = {
    "sweeps.md": (flight, trace, lever, limits, steadiness, sweep),
    "peaks.md": (
        excerpt, flow_path, passage, power_level, unknowns, peak_noise, peak_fit, peak_joint, peak_start,
        peak_status, probe_signal, witness, peak,
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("page", "module"),
    [pytest.param(page, module, id=module.__name__) for page, modules in PAGES.items() for module in modules],
)
def test_each_threshold_is_named_on_the_page(page: str, module: ModuleType) -> None:
    named = set(re.findall(r"`([A-Z][A-Z_]+)`", (THEORY / page).read_text(encoding="utf-8")))
    public = [name for name in vars(module) if name.isupper() and not name.startswith("_")]
    assert [name for name in public if name not in named] == []
