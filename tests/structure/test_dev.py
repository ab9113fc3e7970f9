"""The set-up script: its gates close when they should."""

import datetime as dt
import sys
from pathlib import Path

import pytest

import dev
from tests.structure.sources import ROOT

Summary = dict[str, int]


def report(**rooms: tuple[int, int]) -> dict[str, dict[str, dict[str, Summary]]]:
    """A coverage report of 100 lines and 20 branches a room, of which so many are covered."""
    return {
        "files": {
            f"src/leanwright/{room}/module.py": {
                "summary": {
                    "covered_lines": lines,
                    "num_statements": 100,
                    "covered_branches": branches,
                    "num_branches": 20,
                }
            }
            for room, (lines, branches) in rooms.items()
        }
    }


ENOUGH = {
    "recordings": (95, 19),
    "engine": (100, 20),
    "analysis": (96, 20),
    "book": (97, 19),
    "report": (10, 1),
}


def test_enough_coverage_is_let_pass_and_told_by_room(capsys: pytest.CaptureFixture[str]) -> None:
    dev.judge_coverage(report(**ENOUGH))
    assert capsys.readouterr().out.splitlines() == [
        "coverage of recordings: lines 95.0 %, branches 95.0 %",
        "coverage of engine: lines 100.0 %, branches 100.0 %",
        "coverage of analysis: lines 96.0 %, branches 100.0 %",
        "coverage of book: lines 97.0 %, branches 95.0 %",
    ]


@pytest.mark.parametrize("room", dev.COVERED_ROOMS)
@pytest.mark.parametrize("too_little", [(94, 20), (100, 18)])
def test_too_few_lines_or_branches_of_any_room_stop_the_step(room: str, too_little: tuple[int, int]) -> None:
    with pytest.raises(SystemExit, match="have to reach 95 %"):
        dev.judge_coverage(report(**{**ENOUGH, room: too_little}))


def test_a_room_that_no_test_reached_stops_the_step() -> None:
    with pytest.raises(SystemExit):
        dev.judge_coverage(report(recordings=(100, 20), engine=(100, 20)))


def test_without_a_browser_its_tests_are_left_out_and_that_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(dev, "BROWSERS", ("no-such-browser",))
    monkeypatch.setattr(dev, "ON_CI", False)
    assert dev.without_a_browser() == ("-m", "not browser")
    assert "left out" in capsys.readouterr().err


def test_ci_insists_on_a_browser(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dev, "BROWSERS", ("no-such-browser",))
    monkeypatch.setattr(dev, "ON_CI", True)
    with pytest.raises(SystemExit, match="No Chromium found"):
        dev.without_a_browser()


def test_a_hash_that_is_added_to_a_lock_changes_no_pin(tmp_path: Path) -> None:
    text = (ROOT / "run.lock").read_text("utf-8")
    longer = tmp_path / "longer.lock"
    longer.write_text(f"{text.rstrip()} \\\n    --hash=sha256:{'0' * 64}\n", "utf-8")
    other = tmp_path / "other.lock"
    other.write_text(text.replace("click==", "click==9"), "utf-8")
    assert dev.pins(longer) == dev.pins(ROOT / "run.lock")
    assert dev.pins(other) != dev.pins(ROOT / "run.lock")


@pytest.mark.promise("S3")
@pytest.mark.parametrize(("age_days", "stops"), [(0, False), (30, False), (31, True), (-1, True)])
def test_a_release_wants_a_list_of_known_faults_of_the_last_30_days(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, age_days: int, *, stops: bool
) -> None:
    gathered = dt.datetime.now(dt.UTC).date() - dt.timedelta(days=age_days)
    advisories = tmp_path / "advisories.toml"
    advisories.write_text(f"gathered = {gathered.isoformat()}\n", "utf-8")
    monkeypatch.setattr(dev, "ROOT", tmp_path)
    monkeypatch.setattr(dev, "ADVISORIES", advisories)
    monkeypatch.setattr(dev, "for_tests", lambda: sys.exit("nothing stopped it before it was built"))
    wanted = "at most 30. Go through it again" if stops else "nothing stopped it"
    with pytest.raises(SystemExit, match=wanted):
        dev.package(["--release"])
    with pytest.raises(SystemExit, match="nothing stopped it"):
        dev.package([])


def test_an_interpreter_that_does_not_start_is_passed_over() -> None:
    assert dev.python_version("no-such-python") is None
    assert dev.python_version(sys.executable) == f"{sys.version_info[0]}.{sys.version_info[1]}"


def test_a_step_that_fails_stops_with_its_exit_code() -> None:
    with pytest.raises(SystemExit) as stopped:
        dev.run(sys.executable, "-c", "raise SystemExit(7)")
    assert stopped.value.code == 7


@pytest.mark.parametrize("arguments", [[], ["tset"]])
def test_an_unknown_step_is_answered_with_the_list(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["dev.py", *arguments])
    with pytest.raises(SystemExit) as stopped:
        dev.main()
    assert all(f"  {step}" in str(stopped.value.code) for step in dev.STEPS)


def test_an_older_python_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dev, "OLDEST", (9, 0))
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or later"):
        dev.main()


def test_the_set_up_needs_the_standard_library_only() -> None:
    text = (ROOT / "dev.py").read_text("utf-8")
    imports = {
        line.split()[1].partition(".")[0]
        for line in text.splitlines()
        if line.lstrip().startswith(("import ", "from "))
    }
    assert imports <= sys.stdlib_module_names
