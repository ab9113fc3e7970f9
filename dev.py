"""Set up leanwright on a fresh machine and do one thing: ``python dev.py demo`` or ``python dev.py test``.

Only the standard library is used here, so that this file is the whole set-up on every system. Each step makes the
virtual environment that it needs from a lock file whose hashes pip checks, and finds it ready the next time.
``python dev.py`` alone lists the steps.
"""

import datetime as dt
import filecmp
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent
OLDEST = (3, 11)
ON_CI = os.environ.get("CI") == "true"
BIN = "Scripts" if os.name == "nt" else "bin"
PIP = ("-m", "pip", "--disable-pip-version-check", "-qq", "install")
# The lock is whole: what a package asks for is not looked up again, or a release after the lock would be found too new.
LOCKED = ("--require-hashes", "--no-deps", "--only-binary", ":all:", "-r")
CHECK = ("-m", "pip", "--disable-pip-version-check", "-qq", "check")
FROM_HERE = ("--no-deps", "--no-build-isolation", "--no-index")
LOCK_COMMON = (
    "--universal", "--python-version", "3.11", "--generate-hashes", "--only-binary", ":all:",
    "--no-emit-index-url", "--no-emit-find-links", "--no-header", "--no-annotate", "-q",
)  # fmt: skip
LOCKS = ("run.lock", "dev.lock")
BILL = ROOT / "dist" / "bill-of-materials.cdx.json"
ADVISORIES = ROOT / "tests" / "faults" / "advisories.toml"
OLDEST_ADVISORIES_DAYS = 30
COVERED_ROOMS = ("recordings", "engine", "analysis", "book")
LEAST_COVERAGE_PERCENT = 95.0
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
NEWER_PYTHONS = ("python3.12", "python3.13", "python3.14")
PYTHONS_VARIABLE = "LEANWRIGHT_PYTHONS"


def say(text: str) -> None:
    """Write progress to standard error, so that standard output holds results only."""
    print(text, file=sys.stderr, flush=True)


def run(*argv: str | Path, cwd: Path = ROOT, variables: dict[str, str] | None = None) -> None:
    """Run a program, and stop with its exit code if it fails."""
    surroundings = {**os.environ, **(variables or {})}
    done = subprocess.run([str(a) for a in argv], cwd=cwd, env=surroundings, check=False)
    if done.returncode != 0:
        sys.exit(done.returncode)


def make_environment(place: Path, lock: str, interpreter: str | Path) -> Path:
    """Make a virtual environment of a lock file's packages, and return its programs' folder."""
    if Path(interpreter).is_relative_to(place):
        # Run from the environment that is made anew: its own Python is about to go.
        interpreter = getattr(sys, "_base_executable", interpreter)
    shutil.rmtree(place, ignore_errors=True)
    made = subprocess.run([interpreter, "-m", "venv", place], capture_output=True, text=True, check=False)
    if made.returncode != 0:
        said = (made.stdout + made.stderr).strip()
        sys.exit(
            f"{said}\nThis Python cannot make a virtual environment; on Debian: apt-get install python3-venv"
        )
    programs = place / BIN
    run(programs / "python", *PIP, *LOCKED, lock)
    run(programs / "python", *CHECK)
    return programs


def environment(lock: str, folder: str, interpreter: str | Path = sys.executable) -> Path:
    """Make (or find) the environment of a lock file with the project in it, and return its programs' folder.

    It is made anew when the lock, the project's own description or the Python has changed; settings of the checks
    in ``pyproject.toml`` do not matter.
    """
    import tomllib

    described = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    del described["tool"]
    version = subprocess.run(
        [interpreter, "-c", "import sys; print(sys.version)"], capture_output=True, text=True, check=True
    ).stdout
    made_from = (json.dumps(described, sort_keys=True), (ROOT / lock).read_text("utf-8"), version.strip())
    digest = hashlib.sha256("\n".join(made_from).encode()).hexdigest()
    place = ROOT / folder
    mark = place / "made-from"
    if not (mark.is_file() and mark.read_text("utf-8") == digest):
        say(f"Setting up {folder} (once; under a minute on an ordinary connection) ...")
        programs = make_environment(place, lock, interpreter)
        run(programs / "python", *PIP, *FROM_HERE, "-e", ".")
        mark.write_text(digest, "utf-8")
    return place / BIN


def for_tests() -> Path:
    """The environment in which the project is checked."""
    return environment("dev.lock", ".venv")


def demo(options: list[str]) -> None:
    """Run the main job on the first flight of an invented engine. Options go to ``leanwright demo``."""
    run(environment("run.lock", ".venv-run") / "leanwright", "demo", *options)


def test(options: list[str]) -> None:
    """Run every check: style, types, import directions, tests with coverage. Options, if any, go to pytest alone."""
    programs = for_tests()
    if options:
        pytest(programs, *options)
        return
    run(programs / "ruff", "check", "-q", ".")
    run(programs / "ruff", "format", "-q", "--check", ".")
    run(programs / "mypy", "--no-error-summary")
    run(programs / "lint-imports", "--no-logo")
    with tempfile.TemporaryDirectory() as folder:
        figures = Path(folder, "coverage.json")
        pytest(programs, *all_cores(), *without_a_browser(), "--cov", f"--cov-report=json:{figures}")
        judge_coverage(json.loads(figures.read_text("utf-8")))


def pytest(programs: Path, *options: str) -> None:
    """Run pytest with one thread a process: the processes share the cores already."""
    threads = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    run(programs / "python", "-m", "pytest", "-q", *options, variables=threads)


def all_cores() -> tuple[str, ...]:
    """The options of pytest that spread the tests over all cores."""
    return ("-n", "auto", "--dist", "worksteal")


def without_a_browser() -> tuple[str, ...]:
    """The options of pytest that leave out the browser's tests where there is none; on CI there has to be one."""
    if any(shutil.which(name) for name in BROWSERS):
        return ()
    if ON_CI:
        sys.exit("No Chromium found, and CI has to run the tests in a browser.")
    say("No Chromium found: the tests in a browser are left out. Install one to run them.")
    return ("-m", "not browser")


def judge_coverage(report: dict[str, dict[str, dict[str, dict[str, int]]]]) -> None:
    """Print how much of each room the tests reach, and stop if it is too little."""
    too_little = False
    for room in COVERED_ROOMS:
        part = f"leanwright/{room}/"
        files = [found["summary"] for name, found in report["files"].items() if part in Path(name).as_posix()]
        lines = percent(files, "covered_lines", "num_statements")
        branches = percent(files, "covered_branches", "num_branches")
        print(f"coverage of {room}: lines {lines:.1f} %, branches {branches:.1f} %", flush=True)
        too_little |= min(lines, branches) < LEAST_COVERAGE_PERCENT
    if too_little:
        sys.exit(
            f"The tests have to reach {LEAST_COVERAGE_PERCENT:g} % of the lines and branches of each of these rooms. "
            "What they miss: python dev.py test --cov --cov-report=term-missing"
        )


def percent(files: list[dict[str, int]], part: str, whole: str) -> float:
    """Share of what is covered in some files [%]. Nothing of no files; all of files that have nothing to cover."""
    total = sum(file[whole] for file in files)
    if total:
        return 100.0 * sum(file[part] for file in files) / total
    return 100.0 if files else 0.0


def docs(options: list[str]) -> None:
    """Make docs/reference anew from the program. With ``--check`` only say whether it is up to date."""
    run(for_tests() / "python", "-m", "docs.reference.generate", *options)


def faults(options: list[str]) -> None:
    """Make the long runs of the promises, one lane after the other; ``--lane NAME``, ``--sample``, ``--seed N``."""
    programs = for_tests()
    run(programs / "python", "-m", "tests.faults.measure", *options)


def lock(options: list[str]) -> None:
    """Make both locks anew, keeping what still fits. ``--upgrade`` takes the newest, ``--check`` changes nothing."""
    ready = ROOT / ".venv" / BIN / "uv"
    uv = ready if ready.exists() else Path(shutil.which("uv") or for_tests() / "uv")
    upgrade = ("--upgrade",) if "--upgrade" in options else ()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        for name in ("pyproject.toml", "build.in", *LOCKS):
            shutil.copy(ROOT / name, place)
        compile_lock = (str(uv), "pip", "compile", "pyproject.toml", "build.in", *LOCK_COMMON, *upgrade)
        run(*compile_lock, "-o", "run.lock", cwd=place)
        run(*compile_lock, "--group", "dev", "-c", "run.lock", "-o", "dev.lock", cwd=place)
        if "--check" in options:
            old = [name for name in LOCKS if pins(place / name) != pins(ROOT / name)]
            if old:
                sys.exit(f"Not up to date with pyproject.toml: {' and '.join(old)}. Run: python dev.py lock")
            return
        for name in LOCKS:
            shutil.copy(place / name, ROOT)


def pins(lock_file: Path) -> list[str]:
    """The packages and versions of a lock; a file that is added to a release later changes the hashes only."""
    return [line for line in lock_file.read_text("utf-8").splitlines() if not line.startswith("    --hash")]


def advisories_age_days(today: dt.date) -> int:
    """How long ago the list of known faults was gathered [d]."""
    import tomllib

    gathered: dt.date = tomllib.loads(ADVISORIES.read_text("utf-8"))["gathered"]
    return (today - gathered).days


def package(options: list[str]) -> None:
    """Build the wheel twice, install it from the run lock alone, list its parts, run it. ``--release`` wants new advisories."""
    age_days = advisories_age_days(dt.datetime.now(dt.UTC).date())
    if "--release" in options and not 0 <= age_days <= OLDEST_ADVISORIES_DAYS:
        sys.exit(
            f"The list of known faults is {age_days} days old; for a release it has at most {OLDEST_ADVISORIES_DAYS}. "
            f"Go through it again: {ADVISORIES.relative_to(ROOT)}"
        )
    builder = for_tests() / "python"
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        first, second = (build_wheel(builder, place / name) for name in ("first", "second"))
        if not filecmp.cmp(first, second, shallow=False):
            sys.exit("Two builds of the same sources gave different wheels.")
        programs = make_environment(place / "clean", "run.lock", sys.executable)
        run(builder, "-m", "tests.faults.bill", programs / "python", "run.lock", BILL)
        run(programs / "python", *PIP, *FROM_HERE, ".")
        run(programs / "python", "-m", "pip", "check", "-q")
        for arguments in (
            ("--version",),
            ("--help",),
            ("demo", "--no-browser", "--out", str(place / "demo")),
        ):
            run(programs / "leanwright", *arguments, cwd=place)
        if not list(place.glob("demo/*.html")):
            sys.exit("The installed demo wrote no page.")
    say("The wheel is the same byte for byte, installs from the run lock alone, and runs.")
    say(f"The list of known faults that it was held against is {age_days} days old.")
    say(f"Its parts, equal to the lock, with their licences: {BILL.relative_to(ROOT)}")


def build_wheel(python: Path, place: Path) -> Path:
    """Build the wheel from a fresh copy of what belongs to it, so that no time or path of this tree can get in."""
    shutil.copytree(
        ROOT / "src",
        place / "src",
        ignore=shutil.ignore_patterns("__pycache__"),
        copy_function=shutil.copyfile,
    )
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copyfile(ROOT / name, place / name)
    build = (
        python,
        "-m",
        "pip",
        "--disable-pip-version-check",
        "-qq",
        "wheel",
        *FROM_HERE,
        "-w",
        "made",
        ".",
    )
    run(*build, cwd=place, variables={"SOURCE_DATE_EPOCH": "1600000000"})
    return next((place / "made").glob("*.whl"))


def other_pythons(options: list[str]) -> None:
    """Run the tests with every other Python found on PATH or named in LEANWRIGHT_PYTHONS. Options go to pytest."""
    named = [name for name in os.environ.get(PYTHONS_VARIABLE, "").split(os.pathsep) if name]
    tried = {}
    for name in [*named, *NEWER_PYTHONS]:
        version = python_version(name)
        if version and version not in tried and version != ".".join(map(str, sys.version_info[:2])):
            tried[version] = name
    if not tried:
        say(
            f"No other Python found. Put {' or '.join(NEWER_PYTHONS)} on PATH, or name some in {PYTHONS_VARIABLE}."
        )
    failed = []
    for version, name in tried.items():
        say(f"Python {version}:")
        programs = environment("dev.lock", f".venv-{version}", shutil.which(name) or name)
        try:
            pytest(programs, *all_cores(), *without_a_browser(), *options)
        except SystemExit:
            failed.append(version)
    if failed:
        sys.exit(f"The tests fail with Python {' and '.join(failed)}.")


def python_version(interpreter: str) -> str | None:
    """Version of an interpreter as "3.12", or ``None`` if it does not start or is too old."""
    code = "import sys; print('%d.%d' % sys.version_info[:2]); sys.exit(sys.version_info < (3, 11))"
    try:
        done = subprocess.run([interpreter, "-c", code], capture_output=True, text=True, check=False)
    except OSError:
        return None
    return done.stdout.strip() if done.returncode == 0 else None


STEPS: dict[str, Callable[[list[str]], None]] = {
    "demo": demo,
    "test": test,
    "docs": docs,
    "faults": faults,
    "lock": lock,
    "package": package,
    "other-pythons": other_pythons,
}


def main() -> None:
    """Do the step named on the command line."""
    if sys.version_info < OLDEST:
        sys.exit(f"leanwright needs Python 3.11 or later; this is {sys.version.split()[0]}")
    if len(sys.argv) < 2 or sys.argv[1] not in STEPS:
        told = "".join(f"\n  {name:15}{step.__doc__}" for name, step in STEPS.items())
        sys.exit(f"usage: python dev.py STEP [OPTIONS]\n{told}")
    STEPS[sys.argv[1]](sys.argv[2:])


if __name__ == "__main__":
    main()
