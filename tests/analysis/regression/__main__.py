"""Keep every result anew: ``python -m tests.analysis.regression``."""

from tests.analysis.regression.cases import CASES
from tests.analysis.regression.kept import keep
from tests.analysis.regression.plain import plain

for name, make in CASES.items():
    keep(name, plain(make()))
