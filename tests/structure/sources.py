"""The project's own files, parsed once for all structure tests."""

import ast
import subprocess
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "src" / "leanwright"
SMALL_MODULES = ("told", "quantities", "findings", "errors", "showing")


@dataclass(frozen=True, slots=True)
class Source:
    """One module of the package: its dotted name, text and syntax tree."""

    name: str
    text: str
    tree: ast.Module

    @property
    def room(self) -> str:
        """The room that the module stands in; the small modules are one; the package itself is ``leanwright``."""
        parts = self.name.split(".")
        if len(parts) == 1 or parts[1] == "__main__":
            return "leanwright"
        return "small modules" if parts[1] in SMALL_MODULES else parts[1]


def source(name: str, text: str) -> Source:
    """Parse the text of one module."""
    return Source(name, text, ast.parse(text, name))


@cache
def sources() -> tuple[Source, ...]:
    """Every module of the package, in order of name."""
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found.append(source(name, path.read_text("utf-8")))
    return tuple(found)


@cache
def project_files() -> tuple[Path, ...]:
    """Every file that git knows or would take up, as paths from the project's folder.

    Without git (an unpacked source archive) every file outside hidden and built folders.
    """
    try:
        listed = subprocess.run(
            ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],  # noqa: S607  git is found on PATH
            cwd=ROOT,
            capture_output=True,
            check=True,
        ).stdout.decode()
        names = [Path(name) for name in listed.split("\0") if name]
    except (OSError, subprocess.CalledProcessError):
        names = [
            path.relative_to(ROOT)
            for path in ROOT.rglob("*")
            if not any(part.startswith(".") or part == "__pycache__" for part in path.relative_to(ROOT).parts)
        ]
    return tuple(sorted(name for name in names if (ROOT / name).is_file()))


def project_texts() -> dict[str, str]:
    """The text of every project file that is text, by its path."""
    texts = {}
    for name in project_files():
        try:
            texts[name.as_posix()] = (ROOT / name).read_text("utf-8")
        except UnicodeDecodeError:
            continue
    return texts
