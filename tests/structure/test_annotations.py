"""No field is called like a type that its class names: Python 3.14 reads annotations late, in the class."""

import ast
from pathlib import Path

SOURCES = Path(__file__).resolve().parents[2] / "src" / "leanwright"
PLANTED = "class Returned:\n    date: date\n    due: date\n"


def hidden(code: str) -> list[str]:
    """Fields of classes whose value hides a type that stands in an annotation of the same class."""
    found = []
    for made in ast.walk(ast.parse(code)):
        if isinstance(made, ast.ClassDef):
            fields = [part for part in made.body if isinstance(part, ast.AnnAssign)]
            types = {
                name.id for part in fields for name in ast.walk(part.annotation) if isinstance(name, ast.Name)
            }
            named = {ast.unparse(part.target) for part in fields}
            found += [f"{made.name}.{name}" for name in sorted(named & types)]
    return found


def test_no_field_hides_a_type_of_its_class() -> None:
    sources = sorted(SOURCES.rglob("*.py"))
    assert {
        str(place): hidden(place.read_text("utf-8")) for place in sources if hidden(place.read_text("utf-8"))
    } == {}


def test_a_planted_field_is_found() -> None:
    assert hidden(PLANTED) == ["Returned.date"]
