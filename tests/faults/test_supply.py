"""The parts that the program is made of: what is installed is what is locked, free to use, and nothing in it is dangerous."""

import importlib.metadata
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.version import Version

import dev
from tests.faults import bill
from tests.faults.bill import locked_here, normal, told_by_us
from tests.faults.promises import TrialRun
from tests.structure.sources import ROOT
from tests.structure.test_locks import PIN, REASONS, direct, lock_text

ADVISORIES = tomllib.loads(Path(__file__).with_name("advisories.toml").read_text("utf-8"))
FREE = re.compile(
    r"MIT|BSD|Apache|MPL|Mozilla|ISC|PSF|Python Software Foundation|zlib|Unlicense|LGPL|OSI|CC0|0BSD",
    re.IGNORECASE,
)
NOT_OURS_TO_PASS_ON = re.compile(r"(?<!L)GPL|AGPL|SSPL|Proprietary", re.IGNORECASE)
DANGEROUS = "import os, pickle, sys\nos.system(sys.argv[1])\npickle.loads(b'')\neval('1')\n"
EXTENSION = re.compile(r"\.(so|pyd|dll|dylib)(\.|$)")
WORST = {"HIGH", "MEDIUM"}
EXPLAINED = re.compile(r"#\s*noqa: S\d+.*\S{3,}")


@pytest.mark.promise("S2")
def test_the_bill_of_materials_is_what_is_locked(trial_run: TrialRun) -> None:
    listed = bill.made(sys.executable)
    assert listed["bomFormat"] == "CycloneDX"
    assert bill.faults(listed, "dev.lock") == []
    if trial_run.is_long:
        assert bill.out_of_form(listed) == []
    trial_run.measured(f"{len(bill.parts(listed))} parts, equal, each with its licence", 1)


@pytest.mark.promise("S2")
def test_canary_one_part_more_or_without_a_licence_shows() -> None:
    locked = [
        {"name": name, "version": version, "licenses": ["MIT"]} for name, version in locked_here("run.lock")
    ]
    assert bill.faults({"components": [*locked, {"name": "pip", "version": "1"}]}, "run.lock") == []
    assert bill.faults({"components": [*locked, {"name": "Stray.Part", "version": "1.0"}]}, "run.lock") == [
        "stray-part 1.0 is installed and not in run.lock",
        "Stray.Part tells no licence",
    ]
    (missing,) = bill.faults({"components": locked[1:]}, "run.lock")
    assert missing == f"{locked[0]['name']} {locked[0]['version']} is in run.lock and not installed"


@pytest.mark.promise("S2")
def test_canary_a_part_without_a_name_is_out_of_the_form_of_the_bill() -> None:
    part = {"type": "library", "name": "a-part", "version": "1.0"}
    about = {"bomFormat": "CycloneDX", "specVersion": "1.6"}
    assert bill.out_of_form({**about, "components": [part]}) == []
    assert bill.out_of_form({**about, "components": [{"type": "library"}]}) == [
        "'name' is a required property"
    ]


def licences() -> dict[str, str]:
    """The licence of every installed part that the program itself needs."""
    command = [sys.executable, "-m", "piplicenses", "--format=json", "--with-system"]
    made = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    needed = {name for name, _ in locked_here("run.lock")}
    found = {normal(part["Name"]): part["License"] for part in made if normal(part["Name"]) in needed}
    return {name: told_by_us(name) if licence == "UNKNOWN" else licence for name, licence in found.items()}


def unfree(found: dict[str, str]) -> list[str]:
    """The parts whose licence is unknown, or would bind those who pass the program on."""
    return [
        f"{name}: {licence}"
        for name, licence in found.items()
        if NOT_OURS_TO_PASS_ON.search(licence) or not FREE.search(licence)
    ]


def unexplained(needed: set[str], text: str) -> set[str]:
    """The parts that have no row in the table of reasons."""
    return needed - set(re.findall(r"^\| `([a-z0-9-]+)` \| \S+ \S+ \S+", text, re.MULTILINE))


def compiled() -> list[str]:
    """The parts of the program that bring machine code along; those that are marked for one system, or hold a library."""
    found = {name: importlib.metadata.files(name) or [] for name, _ in locked_here("run.lock")}
    return sorted(name for name, files in found.items() if any(EXTENSION.search(file.name) for file in files))


@pytest.mark.promise("S5")
def test_every_part_has_a_free_licence_and_every_direct_one_a_reason(trial_run: TrialRun) -> None:
    found = licences()
    assert set(found) == {name for name, _ in locked_here("run.lock")}
    assert unfree(found) == []
    assert unfree({"stray": "GPLv3", "other": "UNKNOWN"}) == ["stray: GPLv3", "other: UNKNOWN"]
    reasons = REASONS.read_text("utf-8")
    assert unexplained(direct("run"), reasons) == set()
    without_numpy = "".join(line for line in reasons.splitlines(keepends=True) if "| `numpy`" not in line)
    assert unexplained({*direct("run"), "stray"}, without_numpy) == {"numpy", "stray"}, "canary"
    machine_code = compiled()
    assert {"numpy", "scipy", "msgspec"} <= set(machine_code), "canary: these three are known to"
    trial_run.measured(
        f"{len(direct('run'))} direct parts, each with a reason, all {len(found)} free; "
        f"{len(machine_code)} of them bring machine code",
        1,
    )


def bandit(place: Path) -> list[dict[str, str | int]]:
    """What a scanner for dangerous calls says of the modules below a place; only what it rates as more than low."""
    command = [sys.executable, "-m", "bandit", "-q", "-r", str(place), "-f", "json"]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    return [found for found in json.loads(done.stdout)["results"] if found["issue_severity"] in WORST]


def explained(found: dict[str, str | int]) -> bool:
    """Whether the line of a finding says why it is safe."""
    lines = Path(str(found["filename"])).read_text("utf-8").splitlines()
    number = int(found["line_number"])
    return any(EXPLAINED.search(line) for line in lines[number - 1 : number + 1])


@pytest.mark.promise("Q3")
def test_no_dangerous_call_stands_without_its_reason(tmp_path: Path, trial_run: TrialRun) -> None:
    found = bandit(ROOT / "src")
    assert [one for one in found if one["issue_severity"] == "HIGH"] == []
    assert [
        f"{one['filename']}:{one['line_number']} {one['test_id']}" for one in found if not explained(one)
    ] == []
    (tmp_path / "planted.py").write_text(DANGEROUS, "utf-8")
    assert {str(one["test_id"]) for one in bandit(tmp_path)} == {"B301", "B605", "B307"}, "canary"
    trial_run.measured(f"0 high, {len(found)} medium, each with its reason", 1)


@pytest.mark.promise("S4")
def test_two_builds_of_the_same_sources_are_the_same_file_and_of_others_another(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, trial_run: TrialRun
) -> None:
    first = dev.build_wheel(Path(sys.executable), tmp_path / "first").read_bytes()
    monkeypatch.setenv("PYTHONHASHSEED", "7")
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    assert dev.build_wheel(Path(sys.executable), tmp_path / "second").read_bytes() == first
    changed = tmp_path / "second" / "src" / "leanwright" / "errors.py"
    changed.write_text(changed.read_text("utf-8") + "# One line more.\n", "utf-8")
    monkeypatch.setattr(dev, "ROOT", tmp_path / "second")
    assert dev.build_wheel(Path(sys.executable), tmp_path / "third").read_bytes() != first
    trial_run.measured(f"0 of {len(first):,} bytes differ; another source gives another file", 2)


def faulty(parts: set[tuple[str, str]]) -> list[str]:
    """The advisories that name a part in a version that is not mended yet."""
    versions: dict[str, list[Version]] = {}
    for name, version in parts:
        versions.setdefault(name, []).append(Version(version))
    return [
        f"{one['id']} ({one['severity']}): {one['package']} before {one['mended_in']}"
        for one in ADVISORIES["advisory"]
        if any(version < Version(one["mended_in"]) for version in versions.get(one["package"], []))
    ]


@pytest.mark.promise("S3")
def test_no_locked_part_has_a_known_fault(trial_run: TrialRun) -> None:
    locked = {(found["name"], found["version"]) for found in PIN.finditer(lock_text("run.lock"))}
    assert faulty(locked) == []
    assert faulty({("h11", "0.14.0"), ("idna", "3.20")}) == ["CVE-2025-43859 (critical): h11 before 0.16.0"]
    named = {one["package"] for one in ADVISORIES["advisory"]}
    assert named <= {name for name, _ in locked}
    trial_run.measured(
        f"0 of {len(ADVISORIES['advisory'])} advisories, gathered by hand on {ADVISORIES['gathered']}, apply",
        1,
    )


def test_the_version_that_is_installed_is_the_one_that_is_described() -> None:
    described = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["version"]
    assert importlib.metadata.version("leanwright") == described
