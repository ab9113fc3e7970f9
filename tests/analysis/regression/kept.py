"""Where the results are kept."""

import json
from pathlib import Path

FOLDER = Path(__file__).with_name("kept")


def keep(name: str, result: object) -> None:
    """Write one result, a line for each of its parts."""
    assert isinstance(result, dict)
    lines = [f"{json.dumps(key)}: {json.dumps(part, ensure_ascii=False)}" for key, part in result.items()]
    text = "{\n" + ",\n".join(lines) + "\n}\n"
    (FOLDER / f"{name}.json").write_text(text, encoding="utf-8", newline="\n")


def kept(name: str) -> object:
    """Read it."""
    return json.loads((FOLDER / f"{name}.json").read_text("utf-8"))
