"""The tests notice when the code is changed in one place (Q2); what none of them notices has its written reason."""

import json
import os
import random
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from tests.faults import changes
from tests.faults.changes import NOTICED
from tests.faults.promises import TrialRun

PARTS = ("ledger", "limits", "units")
"""The parts of which every change is tried."""
ROOMS = "rooms"
"""The rooms of which a sample is drawn."""
CANARY_CHANGES = 12
WIDE = 1.96
"""Normal quantile of an interval of 95 %."""


def became(part: str, most: int, seed: int, place: Path) -> dict[str, str]:
    """What became of the changes of a part, in a Python of its own."""
    command = [sys.executable, "-m", "tests.faults.changes", part, str(most), str(seed), str(place)]
    variables = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("COV_", "LEANWRIGHT_", "PYTEST_"))
    }
    surroundings = {**variables, "CI": "true", "TMPDIR": str(place.parent)}
    done = subprocess.run(
        command, cwd=changes.ROOT, env=surroundings, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return dict(json.loads(place.read_text("utf-8")))


def interval(noticed: int, tried: int) -> tuple[float, float]:
    """Interval of a share [%] (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927, page 209)."""
    share, spread = noticed / tried, WIDE**2 / tried
    half = WIDE * (share * (1 - share) / tried + spread / (4 * tried)) ** 0.5
    return tuple(100.0 * (share + spread / 2 + sign * half) / (1 + spread) for sign in (-1, 1))


def stale(reasons: set[str]) -> set[str]:
    """The reasons for a change that there is no more."""
    files = {one.partition(" ")[0] for one in reasons}
    known = {str(one) for file in files for one in changes.changes_of(changes.SOURCES / "leanwright" / file)}
    return reasons - known


@pytest.mark.promise("Q2")
@pytest.mark.timeout(9000)
@pytest.mark.parametrize("name", PARTS)
def test_every_change_is_noticed_or_has_its_reason(name: str, trial_run: TrialRun, tmp_path: Path) -> None:
    parts, reasons = changes.told()
    if not trial_run.is_long:
        files = {
            path.relative_to(changes.SOURCES / "leanwright").as_posix()
            for path in changes.files_of(parts[name])
        }
        assert stale({one for one in reasons if one.partition(" ")[0] in files}) == set()
        return
    found = became(name, 0, trial_run.seed, tmp_path / "found")
    noticed = sum(what == NOTICED for what in found.values())
    unnoticed = {one for one, what in found.items() if what != NOTICED}
    assert sorted(unnoticed - set(reasons)) == []
    assert 100.0 * noticed >= parts[name].least_percent * len(found)
    trial_run.measured(
        f"{name}: {noticed} of {len(found)} changes noticed ({100.0 * noticed / len(found):.1f} %), "
        f"a reason for each of the other {len(unnoticed)}",
        len(found),
    )


@pytest.mark.promise("Q2")
@pytest.mark.timeout(9000)
def test_of_a_sample_of_all_changes_nearly_all_are_noticed(trial_run: TrialRun, tmp_path: Path) -> None:
    if not trial_run.is_long:
        pytest.skip("a sample is drawn in the long run only")
    found = became(ROOMS, trial_run.trials, trial_run.seed, tmp_path / "found")
    parts, reasons = changes.told()
    unnoticed = [one for one, what in found.items() if what != NOTICED]
    noticed = len(found) - len(unnoticed)
    with_reason = sum(one in reasons for one in unnoticed)
    low, high = interval(noticed, len(found))
    assert stale(set(reasons)) == set()
    assert 100.0 * noticed >= parts[ROOMS].least_percent * len(found)
    trial_run.measured(
        f"analysis, engine, book: {noticed} of {len(found)} changes drawn from seed {trial_run.seed} noticed (95 % interval {low:.0f} to {high:.0f} %); "
        f"a reason for {with_reason} of the other {len(unnoticed)}",
        len(found),
    )


@pytest.mark.promise("Q2")
def test_canary_a_test_that_checks_nothing_lets_changes_through(tmp_path: Path, trial_run: TrialRun) -> None:
    blind = became("canary-blind", CANARY_CHANGES, trial_run.seed, tmp_path / "blind")
    seeing = became("canary-seeing", CANARY_CHANGES, trial_run.seed, tmp_path / "seeing")
    assert len(blind) == len(seeing) == CANARY_CHANGES
    assert sum(what != NOTICED for what in blind.values()) >= CANARY_CHANGES // 3
    assert set(seeing.values()) == {NOTICED}


@pytest.mark.parametrize(("errors", "items"), [(1, ["a test"]), (0, [])])
def test_tests_that_cannot_be_gathered_stop_the_run_and_do_not_count_as_reaching_nothing(
    errors: int, items: list[str]
) -> None:
    session = SimpleNamespace(testsfailed=errors, items=items)
    with pytest.raises(RuntimeError, match="cannot be gathered"):
        changes.Trials([], changes.Reach({}, {})).pytest_runtestloop(cast("pytest.Session", session))


def test_a_run_in_which_not_every_change_was_tried_gives_no_result(tmp_path: Path) -> None:
    broken = tmp_path / "test_broken.py"
    broken.write_text("import a_module_that_nobody_has\n", "utf-8")
    seeing = changes.told()[0]["canary-seeing"]
    one = changes.drawn(seeing, random.Random(1), 1)  # noqa: S311  a sample, no secret
    part = changes.Part(seeing.files, (str(broken),), 100)
    with pytest.raises(RuntimeError, match="Only 0 of 1 changes were tried"):
        changes.results(part, one, changes.Reach({}, {}))


def test_an_interval_of_a_share_is_that_of_the_published_formula() -> None:
    # By hand from the formula: 80 of 100, quantile 1.96.
    assert interval(80, 100) == pytest.approx((71.1, 86.7), abs=0.05)
