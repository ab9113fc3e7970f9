"""What each room may touch outside the project: libraries, files, clock, terminal."""

import ast
import subprocess
import sys
from collections.abc import Callable, Iterator

import pytest

from tests.structure.sources import Source, source, sources

# Which direction our own rooms import is the business of .importlinter. Here stands what comes from outside.
PURE = {
    "abc", "bisect", "collections", "contextlib", "copy", "dataclasses", "decimal", "enum", "fractions", "functools",
    "heapq", "itertools", "math", "operator", "re", "statistics", "string", "textwrap", "types", "typing",
    "unicodedata",
}  # fmt: skip
PACKAGE_DATA = {"importlib.resources", "tomllib"}
LIBRARIES: dict[str, set[str]] = {
    # Path stands in an error's signature only; the clock of a recording is read in recordings.
    "small modules": PURE | {"importlib.import_module", "pathlib"},
    "engine": PURE | {"numpy"},
    "analysis": PURE | {"numpy", "scipy"},
    # The one room with a database. The clock comes in as an argument; time measures waiting only.
    "book": PURE
    | PACKAGE_DATA
    | {
        "alembic", "datetime", "errno", "hashlib", "io", "json", "logging", "msgspec", "os", "pathlib", "psycopg", "pysqlite3",
        "random", "shutil", "sqlalchemy", "sqlite3", "stat", "tempfile", "threading", "time", "urllib.parse", "zipfile",
    },
    "recordings": PURE
    | PACKAGE_DATA
    | {
        "codecs", "csv", "datetime", "gzip", "hashlib", "io", "json", "numpy", "os", "pathlib", "scipy", "stat",
        "struct", "tempfile", "time", "zipfile", "zlib",
    },
    # What a recording is measured with is told by the caller; here are files, processes, and the form of tables. The threads of
    # the library that runs the processes are watched, and each process watches its parent.
    "survey": PURE
    | {
        "arro3", "concurrent.futures", "csv", "distributed", "fnmatch", "hashlib", "io", "json", "multiprocessing", "os",
        "pathlib", "signal", "stat", "threading", "traceback.clear_frames",
    },
    "simulate": PURE | PACKAGE_DATA | {"csv", "datetime", "gzip", "hashlib", "io", "json", "numpy", "pathlib", "scipy", "zipfile"},
    # hashlib names the style sheet in the page's content policy; ElementTree writes the drawings; data-frame libraries
    # are looked for by name.
    "report": PURE
    | PACKAGE_DATA
    | {
        "base64", "datetime", "hashlib", "html", "importlib.import_module",
        "importlib.metadata", "importlib.util.find_spec", "sys.modules", "jinja2", "json", "markupsafe", "numpy",
        "segno", "typst", "xml.etree.ElementTree",
    },
    # Watched engines and watched folders are looked at in the background, so that a page does not wait for them.
    "workbench": PURE
    | PACKAGE_DATA
    | {
        "concurrent.futures", "csv", "datetime", "getpass", "hashlib", "icalendar", "io", "json", "msgspec", "numpy", "os", "pathlib",
        "platformdirs", "secrets", "shutil", "stat", "sys", "tempfile", "threading", "threadpoolctl", "time", "zipfile",
    },
    "cli": PURE | {"click", "datetime", "importlib", "json", "os", "pathlib", "sys", "threading", "time.monotonic", "webbrowser"},
    # The server of the workbench: the one room with sockets, and with a worker of its own for untrusted files.
    "web": PURE
    | PACKAGE_DATA
    | {
        "asyncio", "datetime", "errno", "h11", "hashlib", "hmac", "http.cookies", "inspect", "jinja2", "json", "logging", "markupsafe",
        "msgspec", "numpy", "os", "pathlib", "python_multipart", "resource", "secrets", "shutil", "socket", "starlette",
        "struct", "sys", "tempfile", "threading", "time", "urllib.parse", "uvicorn",
    },
    "leanwright": PURE | {"pathlib"},
}  # fmt: skip
# Never anywhere: code from data, shells, the network.
FORBIDDEN_NAMES = {"eval", "exec", "compile", "__import__", "input", "breakpoint", "globals", "locals"}
NUMPY_FILES = {
    "load", "save", "savez", "savez_compressed", "loadtxt", "savetxt", "genfromtxt", "fromfile", "tofile",
    "memmap", "DataSource", "fromregex",
}  # fmt: skip
ROOMS_WITHOUT_FILES = {"small modules", "engine", "analysis", "report"}
# Who may load a module by a name: the hook for notebooks, what looks for data-frame libraries, and the commands.
LOADERS = {
    "leanwright.showing": "leanwright.report.notebook",
    "leanwright.report.tables": None,
    "leanwright.cli.main": None,
}
TYPE_ROOMS = ("leanwright.analysis.", "leanwright.recordings.", "leanwright.engine.")


def imported(module: Source) -> Iterator[tuple[int, str]]:
    """Every import of a module as line and dotted name, wherever it stands."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names)


def is_among(name: str, allowed: set[str]) -> bool:
    """Whether a dotted name, or something that it lies in, is allowed."""
    parts = name.split(".")
    return any(".".join(parts[:count]) in allowed for count in range(1, len(parts) + 1))


def strange_libraries(module: Source) -> list[str]:
    """Imports from outside the project that the module's room has no business with."""
    return [
        f"{module.name}:{line} imports {name}"
        for line, name in imported(module)
        if not is_among(name, LIBRARIES[module.room] | {"leanwright", "__future__"})
    ]


def forbidden_calls(module: Source) -> list[str]:
    """Calls that no module, or no module of this room, may make."""
    found = []
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Attribute) and node.attr in {"stdout", "stderr"} and module.room != "cli":
            found.append(f"{module.name}:{node.lineno} names {node.attr}; only cli speaks to the terminal")
        if not isinstance(node, ast.Call):
            continue
        where = f"{module.name}:{node.lineno}"
        name = node.func.id if isinstance(node.func, ast.Name) else ""
        attribute = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        if name in FORBIDDEN_NAMES:
            found.append(f"{where} calls {name}")
        if name == "print" and module.room != "cli":
            found.append(f"{where} prints; only cli speaks to the terminal")
        if module.room in ROOMS_WITHOUT_FILES and (name == "open" or attribute in NUMPY_FILES):
            found.append(f"{where} opens a file")
        if any(word.arg == "shell" for word in node.keywords):
            found.append(f"{where} names a shell")
        if "default_rng" in {name, attribute} and not (node.args or node.keywords):
            found.append(f"{where} draws random numbers without a seed; the seed comes in as an argument")
    return found


def functions_where_types_belong(module: Source) -> list[str]:
    """Things that report and cli take from rooms of which they may know the types only."""
    if module.room not in {"report", "cli"}:
        return []
    return [
        f"{module.name}:{line} takes {name}, which is no type"
        for line, name in imported(module)
        if name.startswith(TYPE_ROOMS) and not name.rsplit(".", 1)[1][0].isupper()
    ]


def loads_by_name(module: Source) -> list[str]:
    """Modules loaded by a name that is made at run time: the import linter cannot see them."""
    wanted = LOADERS.get(module.name)
    found = []
    for node in ast.walk(module.tree):
        if not (isinstance(node, ast.Call) and ast.unparse(node.func).endswith("import_module")):
            continue
        named = node.args[0].value if node.args and isinstance(node.args[0], ast.Constant) else None
        if module.name not in LOADERS or named != wanted:
            found.append(f"{module.name}:{node.lineno} loads {ast.unparse(node.args[0])} by name")
    return found


Check = Callable[[Source], list[str]]
CHECKS: list[Check] = [strange_libraries, forbidden_calls, functions_where_types_belong, loads_by_name]


@pytest.mark.promise("Q3")
@pytest.mark.parametrize("check", CHECKS)
def test_every_module_keeps_to_its_room(check: Check) -> None:
    assert [offence for module in sources() for offence in check(module)] == []


@pytest.mark.promise("Q3")
@pytest.mark.parametrize(
    ("check", "room", "text"),
    [
        (strange_libraries, "engine", "import json"),
        (strange_libraries, "engine", "from pathlib import Path"),
        (strange_libraries, "engine", "def late():\n    import time"),
        (strange_libraries, "engine", "import scipy.optimize"),
        (strange_libraries, "engine", "from datetime import datetime"),
        (strange_libraries, "analysis", "import os"),
        (strange_libraries, "analysis", "import logging"),
        (strange_libraries, "report", "import sqlite3"),
        (strange_libraries, "report", "from pathlib import Path"),
        (strange_libraries, "recordings", "import pickle"),
        (strange_libraries, "recordings", "import xml.etree.ElementTree"),
        (strange_libraries, "recordings", "import yaml"),
        (strange_libraries, "recordings", "import pandas"),
        (strange_libraries, "workbench", "import urllib.request"),
        (strange_libraries, "workbench", "import subprocess"),
        (strange_libraries, "cli", "import socket"),
        (forbidden_calls, "engine", "print(1)"),
        (forbidden_calls, "workbench", "print(1)"),
        (forbidden_calls, "workbench", "import sys\nsys.stderr.write('a')"),
        (forbidden_calls, "engine", "open('a')"),
        (forbidden_calls, "analysis", "numpy.loadtxt('a')"),
        (forbidden_calls, "recordings", "eval('1')"),
        (forbidden_calls, "cli", "exec('1')"),
        (forbidden_calls, "cli", "run('a', shell=True)"),
        (forbidden_calls, "simulate", "numpy.random.default_rng()"),
        (loads_by_name, "analysis", "import importlib\nimportlib.import_module('leanwright.report')"),
        (loads_by_name, "report", "from importlib import import_module\nimport_module(name)"),
        (functions_where_types_belong, "report", "from leanwright.analysis.peak import find_peaks"),
        (functions_where_types_belong, "cli", "from leanwright.recordings.recording import clean"),
    ],
)
def test_a_planted_offence_is_seen(check: Check, room: str, text: str) -> None:
    assert len(check(source(f"leanwright.{room}.planted", text))) == 1


@pytest.mark.parametrize(
    ("room", "text"),
    [
        ("engine", "import numpy as np\nfrom collections.abc import Mapping\nimport leanwright.quantities"),
        ("recordings", "import zipfile\nfrom importlib.resources import files"),
        ("report", "from leanwright.analysis.peak import CylinderPeak\nimport jinja2"),
        ("cli", "import click\nprint(1)"),
        ("simulate", "numpy.random.default_rng(seed)"),
    ],
)
def test_what_a_room_may_do_is_let_pass(room: str, text: str) -> None:
    assert [
        offence for check in CHECKS for offence in check(source(f"leanwright.{room}.planted", text))
    ] == []


def test_every_room_says_what_it_may_use() -> None:
    assert {module.room for module in sources()} <= LIBRARIES.keys()


@pytest.mark.parametrize(
    ("module", "absent"),
    [
        ("leanwright", {"alembic", "click", "jinja2", "msgspec", "numpy", "scipy", "sqlalchemy", "typst"}),
        ("leanwright.cli.book", {"alembic", "jinja2", "msgspec", "numpy", "scipy", "sqlalchemy", "typst"}),
        ("leanwright.cli.main", {"alembic", "jinja2", "msgspec", "numpy", "scipy", "sqlalchemy", "typst"}),
        ("leanwright.cli.serve", {"jinja2", "msgspec", "numpy", "scipy", "starlette", "uvicorn"}),
    ],
)
def test_help_and_import_stay_quick(module: str, absent: set[str]) -> None:
    code = f"import sys, {module}; print(*{{name.partition('.')[0] for name in sys.modules}})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert absent.isdisjoint(done.stdout.split())
