"""The locks: a hash beside every package, no address, up to date, and pip refuses what does not match."""

import hashlib
import json
import os
import re
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

import dev
from tests.faults.promises import TrialRun
from tests.structure.sources import ROOT

LOCKS = ["run.lock", "dev.lock"]
PIN = re.compile(
    r"(?P<name>[a-z0-9-]+)(\[[a-z0-9,-]+\])?==(?P<version>[\w.+!]+)( ; (?P<marker>[^\\]+?))?"
    r"(?P<hashes>( \\\n    --hash=sha256:[0-9a-f]{64})+)\n"
)
HASH = re.compile(r"sha256:([0-9a-f]{64})")
TINY = "flit-core"
REASONS = ROOT / "docs" / "decisions" / "0002-dependencies.md"


def lock_text(name: str) -> str:
    """The text of a lock."""
    return (ROOT / name).read_text("utf-8")


def pins(name: str) -> set[tuple[str, str]]:
    """Every package of a lock with its version."""
    return {(found["name"], found["version"]) for found in PIN.finditer(lock_text(name))}


def normal(requirement: str) -> str:
    """The name that a requirement asks for, as the locks write it."""
    found = re.match(r"[\w.-]+", requirement)
    assert found is not None
    return re.sub(r"[-_.]+", "-", found.group()).lower()


def direct(kind: str) -> set[str]:
    """Direct dependencies of the project: what it needs to "run", to be built ("build"), to be worked on ("dev")."""
    described = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    wanted = {
        "run": described["project"]["dependencies"],
        "build": described["build-system"]["requires"],
        "dev": described["dependency-groups"]["dev"],
    }
    return {normal(requirement) for requirement in wanted[kind]}


def spoiled(pin: str) -> str:
    """A pin whose every hash is wrong; one good hash left would let the package through."""
    return HASH.sub(
        lambda found: "sha256:" + found.group(1)[::-1].translate(str.maketrans("0123456789", "1234567890")),
        pin,
    )


def install(tmp_path: Path, requirement: str) -> subprocess.CompletedProcess[str]:
    """Ask pip whether it would install a locked package; nothing is installed."""
    place = tmp_path / "asked.txt"
    place.write_text(requirement, "utf-8")
    options = [
        "--require-hashes",
        "--no-deps",
        "--dry-run",
        "--ignore-installed",
        "--no-cache-dir",
        "-r",
        str(place),
    ]
    return subprocess.run(
        [sys.executable, "-m", "pip", "--disable-pip-version-check", "--retries", "1", "install", *options],
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def tiny_pin(tmp_path: Path) -> str:
    """A small package's pin, once it is known that a registry can be reached and gives what the lock asks for."""
    pin = next(found.group() for found in PIN.finditer(lock_text("run.lock")) if found["name"] == TINY)
    done = install(tmp_path, pin)
    if done.returncode != 0:
        if os.environ.get("CI") == "true":
            pytest.fail(f"CI has to reach a package registry:\n{done.stderr}")
        pytest.skip("no package registry can be reached from here")
    return pin


def tiny_wheel(folder: Path, version: str, needs: str = "") -> str:
    """A wheel with nothing in it, made here; its digest is given back."""
    name = "parent" if needs else "child"
    described = f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\nProvides-Extra: more\n{needs}"
    place = folder / f"{name}-{version}-py3-none-any.whl"
    with zipfile.ZipFile(place, "w") as wheel:
        inside = f"{name}-{version}.dist-info"
        wheel.writestr(f"{inside}/METADATA", described)
        wheel.writestr(f"{inside}/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n")
        wheel.writestr(f"{inside}/RECORD", "")
    return hashlib.sha256(place.read_bytes()).hexdigest()


@dataclass(frozen=True)
class Registry:
    """A folder with two parts, of which one needs the other, and a newer one that nobody asked for; and their lock."""

    folder: Path
    lock: str

    def asked(self, lock: str) -> subprocess.CompletedProcess[str]:
        """Ask pip for what a lock holds as our own steps do, from this folder alone; nothing is installed."""
        place = self.folder / "some.lock"
        place.write_text(lock, "utf-8")
        options = [
            *dev.LOCKED,
            str(place),
            "--no-index",
            "--find-links",
            str(self.folder),
            "--dry-run",
            "--ignore-installed",
        ]
        return subprocess.run(
            [sys.executable, *dev.PIP, *options], capture_output=True, text=True, check=False
        )


@pytest.fixture
def registry(tmp_path: Path) -> Registry:
    """The two parts, made here."""
    parent = tiny_wheel(tmp_path, "1.0", "Requires-Dist: child[more]>=1.0\n")
    child = tiny_wheel(tmp_path, "1.0")
    tiny_wheel(tmp_path, "1.1")
    return Registry(tmp_path, f"child==1.0 --hash=sha256:{child}\nparent==1.0 --hash=sha256:{parent}\n")


def test_a_release_after_the_lock_changes_nothing(registry: Registry) -> None:
    done = registry.asked(registry.lock)
    assert done.returncode == 0, done.stderr


@pytest.mark.promise("S1")
def test_canary_one_altered_hash_in_a_whole_lock_is_refused(registry: Registry) -> None:
    first, second = registry.lock.splitlines(keepends=True)
    done = registry.asked(first + spoiled(second))
    assert done.returncode == 1
    assert "DO NOT MATCH THE HASHES" in done.stderr
    assert "parent" in done.stderr


@pytest.mark.promise("S1")
def test_what_would_have_to_be_built_is_refused_although_its_hash_is_locked(registry: Registry) -> None:
    (registry.folder / "child-1.0-py3-none-any.whl").unlink()
    source = registry.folder / "child-1.0.tar.gz"
    with tarfile.open(source, "w:gz") as archive:
        archive.add(__file__, "child-1.0/setup.py")
    built = HASH.sub(
        f"sha256:{hashlib.sha256(source.read_bytes()).hexdigest()}", registry.lock.splitlines()[0]
    )
    done = registry.asked(built)
    assert done.returncode == 1
    assert "No matching distribution found for child==1.0" in done.stderr


@pytest.mark.promise("S1")
def test_a_clean_environment_holds_what_is_locked_and_nothing_else(
    registry: Registry, monkeypatch: pytest.MonkeyPatch, trial_run: TrialRun
) -> None:
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", str(registry.folder))
    lock, place = registry.folder / "some.lock", registry.folder / "clean"
    lock.write_text(registry.lock, "utf-8")
    (place / "stray").mkdir(parents=True)
    programs = dev.make_environment(place, str(lock), sys.executable)
    listed = [str(programs / "python"), "-m", "pip", "list", "--format=json", "--disable-pip-version-check"]
    done = subprocess.run(listed, check=True, capture_output=True, text=True)
    found = {(part["name"], part["version"]) for part in json.loads(done.stdout)}
    assert {one for one in found if one[0] not in {"pip", "setuptools"}} == {
        ("child", "1.0"),
        ("parent", "1.0"),
    }
    assert not (place / "stray").exists()
    trial_run.measured("a clean environment holds what is locked, from wheels alone, and nothing else", 1)


@pytest.mark.promise("S1")
@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_holds_pins_with_hashes_and_nothing_else(name: str) -> None:
    assert PIN.sub("", lock_text(name)) == ""
    assert len(pins(name)) > 3


@pytest.mark.promise("S1")
@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_names_no_address(name: str) -> None:
    assert not re.search(r"://|\.(org|com|net|io)\b|index-url|find-links", lock_text(name))


def test_direct_dependencies_are_locked() -> None:
    locked = {name: {package for package, _ in pins(name)} for name in LOCKS}
    assert direct("run") | direct("build") <= locked["run.lock"]
    assert direct("dev") <= locked["dev.lock"]


def test_what_runs_is_locked_alike_for_work_on_it() -> None:
    assert pins("run.lock") <= pins("dev.lock")


def test_every_python_runs_the_same_parts() -> None:
    # Another numpy gives other digits: the same recording would not give the same bytes on each Python.
    names = [name for name, _ in pins("run.lock")]
    assert sorted(names) == sorted(set(names))


def test_the_build_tool_is_asked_for_alike() -> None:
    described = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert (ROOT / "build.in").read_text("utf-8").split("\n")[:-1] == described["build-system"]["requires"]


def test_every_direct_dependency_has_its_reason() -> None:
    text = REASONS.read_text("utf-8")
    rows = {
        normal(name): reason
        for name, reason in re.findall(r"^\| `([\w.-]+)` \| ([^|]+) \|", text, re.MULTILINE)
    }
    assert rows.keys() == direct("run") | direct("build") | direct("dev")
    assert [name for name, reason in rows.items() if len(reason.split()) < 5] == []


@pytest.mark.usefixtures("tiny_pin")
def test_both_locks_are_what_the_lock_step_makes_now() -> None:
    step = [sys.executable, str(ROOT / "dev.py"), "lock", "--check"]
    done = subprocess.run(step, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.promise("S1")
def test_pip_refuses_a_package_with_other_hashes(tmp_path: Path, tiny_pin: str) -> None:
    done = install(tmp_path, spoiled(tiny_pin))
    assert done.returncode == 1
    assert "DO NOT MATCH THE HASHES" in done.stderr


@pytest.mark.promise("S1")
def test_pip_refuses_a_package_without_a_hash(tmp_path: Path, tiny_pin: str) -> None:
    done = install(tmp_path, tiny_pin.partition(" ")[0])
    assert done.returncode == 1
    assert "require-hashes" in done.stderr or "Hashes are required" in done.stderr


def test_spoiling_changes_every_hash(tiny_pin: str) -> None:
    assert not set(HASH.findall(tiny_pin)) & set(HASH.findall(spoiled(tiny_pin)))
