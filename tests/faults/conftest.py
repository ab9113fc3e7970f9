"""What several tests of faults begin with."""

from pathlib import Path

import pytest

from tests.faults.test_calls import filled


@pytest.fixture(scope="session")
def given(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What every work of a book begins with; copied for each trial."""
    return filled(tmp_path_factory.mktemp("given"))
