"""Make the pictures of the workbench anew: ``python -m docs.pictures.workbench``. Needs a Chromium. All data are invented.

The pictures are made by the test that goes round the whole workbench in a browser, while it runs.
"""

import os
import subprocess
import sys
from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).parent
TESTS: Final = ("tests/browser/test_whole_round.py", "tests/browser/test_phone_sheet.py")


def main() -> int:
    """Run the tests; each screen that they reach leaves its picture here."""
    variables = {**os.environ, "LEANWRIGHT_PICTURES": str(FOLDER), "CI": "true"}
    command = [sys.executable, "-m", "pytest", "-q", "-k", "whole", *TESTS]
    return subprocess.run(command, cwd=FOLDER.parents[1], env=variables, check=False).returncode  # noqa: S603  our own tests


if __name__ == "__main__":
    sys.exit(main())
