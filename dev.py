"""Set up leanwright on a fresh machine and do one thing: ``python dev.py demo`` or ``python dev.py test``.

Only the standard library is used here, so that this file is the whole set-up.
"""

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent
LOCK_COMMON = [
    "--universal", "--python-version", "3.11", "--generate-hashes", "--only-binary", ":all:",
    "--no-emit-index-url", "--no-emit-find-links", "--no-header", "--no-annotate", "--upgrade", "-q",
]  # fmt: skip


def say(text: str) -> None:
    """Write progress to standard error, so that standard output holds results only."""
    print(text, file=sys.stderr, flush=True)


def run(*argv: str | Path) -> None:
    """Run a program in the project folder, and stop with its exit code if it fails."""
    done = subprocess.run([str(a) for a in argv], cwd=ROOT, check=False)
    if done.returncode != 0:
        sys.exit(done.returncode)


def environment(lock: str, folder: str) -> Path:
    """Make (or find) the virtual environment of a lock file, and return its programs' folder."""
    place = ROOT / folder
    programs = place / ("Scripts" if os.name == "nt" else "bin")
    sources = [ROOT / lock, ROOT / "pyproject.toml"]
    digest = hashlib.sha256(b"".join(p.read_bytes() for p in sources) + sys.version.encode()).hexdigest()
    mark = place / "made-from"
    if mark.is_file() and mark.read_text() == digest:
        return programs
    say(f"Setting up {folder} (once; under a minute on an ordinary connection) ...")
    shutil.rmtree(place, ignore_errors=True)
    venv.create(place, with_pip=True)
    pip = [programs / "python", "-m", "pip", "--disable-pip-version-check", "-q", "install"]
    run(*pip, "--require-hashes", "--only-binary", ":all:", "-r", lock)
    run(*pip, "--no-deps", "--no-build-isolation", "--no-index", "-e", ".")
    mark.write_text(digest)
    return programs


def demo() -> None:
    """Run the main job on an invented engine's first flight."""
    programs = environment("run.lock", ".venv-run")
    run(programs / "leanwright", "demo", *sys.argv[2:])


def test() -> None:
    """Run every check: style, types, structure, tests with coverage."""
    programs = environment("dev.lock", ".venv")
    run(programs / "ruff", "check", ".")
    run(programs / "ruff", "format", "--check", ".")
    run(programs / "mypy")
    run(programs / "lint-imports")
    run(programs / "python", "-m", "pytest", "-q", "-n", "auto", "--dist", "worksteal", *sys.argv[2:])


def lock() -> None:
    """Make both lock files anew."""
    uv = environment("dev.lock", ".venv") / "uv" if (ROOT / ".venv").exists() else Path("uv")
    run(uv, "pip", "compile", "pyproject.toml", "build.in", *LOCK_COMMON, "-o", "run.lock")
    run(uv, "pip", "compile", "pyproject.toml", "build.in", "--group", "dev", "-c", "run.lock",
        *LOCK_COMMON, "-o", "dev.lock")  # fmt: skip


STEPS = {"demo": demo, "test": test, "lock": lock}


def main() -> None:
    """Do the step named on the command line."""
    if len(sys.argv) < 2 or sys.argv[1] not in STEPS:
        sys.exit("usage: python dev.py demo | test | lock")
    if sys.version_info < (3, 11):  # noqa: UP036  this file also meets the older Pythons
        sys.exit(f"leanwright needs Python 3.11 or later; this is {sys.version.split()[0]}")
    STEPS[sys.argv[1]]()


if __name__ == "__main__":
    main()
