"""The bill of materials: ``python -m tests.faults.bill PYTHON LOCK FILE`` writes what is installed beside a Python.

In the open form of CycloneDX, each part with its version and licence. It has to be what the lock asks for on this machine;
``python dev.py package`` makes one of the environment that it installs from the run lock alone.
"""

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from packaging.markers import Marker

from tests.structure.test_locks import PIN, REASONS, lock_text

OUTSIDE_THE_LOCK = {"leanwright", "pip", "setuptools"}
"""The project itself, and what a virtual environment brings along."""
UNKNOWN = "UNKNOWN"
Bill = dict[str, Any]
Parts = set[tuple[str, str]]


def normal(name: str) -> str:
    """The name of a package as the locks write it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def made(python: str | Path) -> Bill:
    """The bill of what is installed beside a Python; a licence that a part does not tell itself is the one of our reasons."""
    command = [
        "-m",
        "cyclonedx_py",
        "environment",
        "--no-validate",
        "--output-reproducible",
        "--of",
        "JSON",
        "-o",
        "-",
        str(python),
    ]
    done = subprocess.run([sys.executable, *command], check=True, capture_output=True)
    bill: Bill = json.loads(done.stdout)
    for part in bill["components"]:
        if not part.get("licenses") and (licence := told_by_us(normal(part["name"]))) != UNKNOWN:
            part["licenses"] = [{"license": {"name": licence}}]
    return bill


def told_by_us(name: str) -> str:
    """The licence of a part whose own description names none, as the table of reasons has it."""
    text = REASONS.read_text("utf-8")
    row = re.search(rf"^\| `{name}` \|[^|]*\| (?P<licence>[^|]*) \|", text, re.MULTILINE)
    beside = re.search(rf"`{name}` \((?P<licence>[\w.-]+); ", text)
    found = row or beside
    return UNKNOWN if found is None else found["licence"]


def parts(bill: Bill) -> Parts:
    """Name and version of each part that a lock could name."""
    found = {(normal(part["name"]), part["version"]) for part in bill["components"]}
    return {(name, version) for name, version in found if name not in OUTSIDE_THE_LOCK}


def locked_here(name: str) -> Parts:
    """Every package that a lock asks for on this machine and Python."""
    return {
        (found["name"], found["version"])
        for found in PIN.finditer(lock_text(name))
        if found["marker"] is None or Marker(found["marker"].strip()).evaluate()
    }


def faults(bill: Bill, lock: str) -> list[str]:
    """Where a bill is not what the lock asks for, and the parts without a licence."""
    installed, locked = parts(bill), locked_here(lock)
    return [
        *(f"{name} {version} is installed and not in {lock}" for name, version in sorted(installed - locked)),
        *(f"{name} {version} is in {lock} and not installed" for name, version in sorted(locked - installed)),
        *(
            f"{part['name']} tells no licence"
            for part in bill["components"]
            if normal(part["name"]) not in OUTSIDE_THE_LOCK and not part.get("licenses")
        ),
    ]


def out_of_form(bill: Bill) -> list[str]:
    """Where a bill is not what the published form of CycloneDX asks for. It takes ten seconds."""
    version = SchemaVersion.from_version(bill["specVersion"])
    found = JsonStrictValidator(version).validate_str(json.dumps(bill))
    return [] if found is None else [str(found).splitlines()[0]]


def main() -> None:
    """Write the bill, unless it is not what is locked, or out of form."""
    python, lock, place = sys.argv[1:]
    bill = made(python)
    if found := [*faults(bill, lock), *out_of_form(bill)]:
        sys.exit("\n".join(found))
    Path(place).parent.mkdir(exist_ok=True)
    Path(place).write_text(json.dumps(bill, ensure_ascii=False, indent=1, sort_keys=True) + "\n", "utf-8")


if __name__ == "__main__":
    main()
