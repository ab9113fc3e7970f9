"""Any bytes are safe to open: each entry point is fed by a fuzzer that is led by the branches it reaches.

A run begins with what is kept beside this file in ``corpus``: a folder of small files for each entry point, and packed
beside it what the fuzzer of a long run found interesting.
"""

import subprocess
import sys
import tempfile
import zipfile
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.book.cluster import quick_folder
from tests.faults.promises import TrialRun

CORPUS = Path(__file__).parent / "corpus"
ENTRIES = ("recording", "archive", "form", "export", "backup")
LONGEST = 20_000
SLOWEST_S = 2
CANARY_INPUTS = 100_000
MOST_MB = 1024
pytestmark = pytest.mark.skipif(find_spec("atheris") is None, reason="no fuzzer for this system")


def feed(entry: str, folder: Path, run: TrialRun, inputs: int) -> subprocess.CompletedProcess[str]:
    """Feed an entry point with a number of inputs, beginning from the corpus."""
    found = folder / "found"
    found.mkdir()
    kept = CORPUS / f"{entry}.zip"
    if kept.exists():
        with zipfile.ZipFile(kept) as packed:
            packed.extractall(found)
    begin = CORPUS / entry
    # Started from a small shell: the kernel counts for a process what it was before it was started.
    command = [
        "sh", "-c", '"$@"; exit $?', "sh", sys.executable, "-m", "tests.faults.fuzz", entry, str(folder / "place"),
        f"-runs={inputs}", f"-seed={run.seed}", f"-max_len={LONGEST}", f"-timeout={SLOWEST_S}",
        f"-rss_limit_mb={MOST_MB}", f"-artifact_prefix={folder}/", "-print_final_stats=1", str(found),
        *([str(begin)] if begin.is_dir() else []),
    ]  # fmt: skip
    return subprocess.run(command, capture_output=True, text=True, check=False)


def keep(found: Path, place: Path) -> None:
    """Pack what a long run found, the same bytes for the same files."""
    with zipfile.ZipFile(place, "w", zipfile.ZIP_DEFLATED) as packed:
        for file in sorted(found.iterdir()):
            packed.writestr(zipfile.ZipInfo(file.name), file.read_bytes(), zipfile.ZIP_DEFLATED)


@pytest.mark.promise("I1")
@pytest.mark.timeout(4500)
@pytest.mark.parametrize("entry", ENTRIES)
def test_any_bytes_are_safe(entry: str, trial_run: TrialRun) -> None:
    with tempfile.TemporaryDirectory(dir=quick_folder()) as folder:
        done = feed(entry, Path(folder), trial_run, trial_run.trials)
        assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-6000:]
        if trial_run.is_long:
            keep(Path(folder, "found"), CORPUS / f"{entry}.zip")
    trial_run.measured(
        "0 errors but our own, nothing written outside, none slower than 2 s or with more memory than it may take",
        trial_run.trials,
    )


@pytest.mark.promise("I1")
@pytest.mark.parametrize(
    ("entry", "told"),
    [("canary", "planted"), ("greedy", "MB for an input"), ("climbing", "written outside")],
)
def test_canary_a_planted_fault_is_found(entry: str, told: str, tmp_path: Path, trial_run: TrialRun) -> None:
    done = feed(entry, tmp_path, trial_run, CANARY_INPUTS)
    assert done.returncode != 0
    assert told in done.stdout + done.stderr
