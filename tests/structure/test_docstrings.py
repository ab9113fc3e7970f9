"""In ``engine`` and ``analysis`` a docstring and its signature say the same, and every number has its unit.

The sections are read by the numpydoc library. A unit stands in square brackets in the type or the description of a
parameter or result: ``[gal/h]``, ``[percent squared]``, ``[1]`` for a bare ratio. A field or property may carry its
unit in the ending of its name instead (``lag_s``); a
probability and a logarithm (docs/nomenclature.md: of the value in its inside unit) are bare numbers and need none.
"""

import ast
import re
from collections.abc import Iterable, Iterator

import pytest
from numpydoc.docscrape import NumpyDocString

from tests.structure.sources import Source, source, sources

ROOMS = {"engine", "analysis"}
NUMERIC = re.compile(r"\b(float|Floats|float64|floating|ArrayLike)\b")
UNIT = re.compile(r"\[[^\[\]]+\]")
UNIT_ENDINGS = (
    "_gph",
    "_f",
    "_df",
    "_inhg",
    "_rpm",
    "_ft",
    "_kt",
    "_s",
    "_percent",
    "_inlb",
    "_h",
    "_psi",
    "_k",
)

BARE_NUMBERS = ("probability", "log_", "u_log_")

Function = ast.FunctionDef | ast.AsyncFunctionDef


def offences(module: Source) -> list[str]:
    """Everything in a module's docstrings that is missing, extra, or without a unit."""
    return [
        f"{module.name}.{name}: {what}"
        for name, node in public_definitions(module.tree)
        for what in (class_offences(node) if isinstance(node, ast.ClassDef) else function_offences(node))
    ]


def public_definitions(tree: ast.Module) -> Iterator[tuple[str, Function | ast.ClassDef]]:
    """Public functions, public classes and their public methods."""
    for node in tree.body:
        if isinstance(node, Function | ast.ClassDef) and not node.name.startswith("_"):
            yield node.name, node
            if isinstance(node, ast.ClassDef):
                for member in node.body:
                    if isinstance(member, Function) and not member.name.startswith("_"):
                        yield f"{node.name}.{member.name}", member


def function_offences(function: Function) -> Iterator[str]:
    """What is wrong with the docstring of a function, method or property."""
    text = ast.get_docstring(function)
    if text is None:
        yield "has no docstring"
        return
    returns = ast.unparse(function.returns) if function.returns else ""
    if any(
        isinstance(d, ast.Name) and d.id in {"property", "cached_property"} for d in function.decorator_list
    ):
        if NUMERIC.search(returns) and not has_unit(function.name, text):
            yield "is a number without a unit in its docstring or name"
        return
    sections = NumpyDocString(text)
    annotations = {
        argument.arg: ast.unparse(argument.annotation) if argument.annotation else ""
        for argument in all_arguments(function.args)
        if argument.arg not in {"self", "cls"}
    }
    documented = {
        name.strip().lstrip("*"): f"{parameter.type} {' '.join(parameter.desc)}"
        for parameter in sections["Parameters"]
        for name in parameter.name.split(",")
    }
    yield from (f"parameter {name} is not documented" for name in annotations if name not in documented)
    yield from (f"documents {name}, which is no parameter" for name in documented if name not in annotations)
    yield from (
        f"parameter {name} has no unit in square brackets"
        for name, annotation in annotations.items()
        if name in documented and NUMERIC.search(annotation) and not UNIT.search(documented[name])
    )
    if [name for name in documented if name in annotations] != [n for n in annotations if n in documented]:
        yield "documents its parameters in another order than they stand"
    if NUMERIC.search(returns):
        results = [*sections["Returns"], *sections["Yields"]]
        told = " ".join(f"{result.name} {result.type} {' '.join(result.desc)}" for result in results)
        if not UNIT.search(told):
            yield "its result has no unit in square brackets in a section Returns"
    raised = {error.type or error.name for error in sections["Raises"]}
    yield from (f"raises {name}, which is not documented" for name in raises(function) if name not in raised)


def class_offences(definition: ast.ClassDef) -> Iterator[str]:
    """What is wrong with the docstring of a class and with those of its fields."""
    text = ast.get_docstring(definition)
    if text is None:
        yield "has no docstring"
        return
    fields = {
        field.target.id: (ast.unparse(field.annotation), docstring_below(below))
        for field, below in zip(definition.body, [*definition.body[1:], None], strict=True)
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name)
    }
    for name, (annotation, own) in fields.items():
        told = has_unit(name, own) or told_in_class(name, text, fields) or name.startswith(BARE_NUMBERS)
        if NUMERIC.search(annotation) and not told:
            yield f"field {name} has no unit in square brackets"


def told_in_class(name: str, text: str, fields: Iterable[str]) -> bool:
    """Whether a class says a field's unit before it speaks of another field; "``a``, ``b`` and ``c``" share one."""
    another = rf"``(?:{'|'.join(fields)})``"
    shared = rf"(?:(?:,| and|, and) {another})*"
    wanted = rf"``{name}``{shared}(?:(?!{another}).)*?{UNIT.pattern}"
    return re.search(wanted, " ".join(text.split())) is not None


def has_unit(name: str, text: str) -> bool:
    """Whether the ending of a name or a text says the unit."""
    return name.endswith(UNIT_ENDINGS) or UNIT.search(text) is not None


def docstring_below(node: ast.stmt | None) -> str:
    """The string that stands under a field, if any."""
    if (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    ):
        return node.value.value
    return ""


def all_arguments(arguments: ast.arguments) -> list[ast.arg]:
    """All arguments of a signature in their order."""
    stars = (arguments.vararg, arguments.kwarg)
    first = [*arguments.posonlyargs, *arguments.args]
    return [
        *first,
        *([stars[0]] if stars[0] else []),
        *arguments.kwonlyargs,
        *([stars[1]] if stars[1] else []),
    ]


def raises(function: Function) -> list[str]:
    """Names of the exceptions that a function raises itself."""
    names = []
    for node in ast.walk(function):
        if isinstance(node, ast.Raise) and node.exc is not None:
            raised = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            names.append(ast.unparse(raised))
    return sorted(set(names) - {"AssertionError"})  # a mistake of ours, which no caller can provoke


def test_docstrings_of_engine_and_analysis_agree_with_their_signatures() -> None:
    found = [what for module in sources() if module.room in ROOMS for what in offences(module)]
    assert not found, "\n".join(found)


RIGHT = '''
def flow(share: float, count: int = 1) -> float:
    """Flow of one cylinder.

    Parameters
    ----------
    share
        Its share of the fuel [1].
    count
        How many times.

    Returns
    -------
    float
        Flow [gal/h].

    Raises
    ------
    ValueError
        If the share is negative.
    """
    if share < 0:
        raise ValueError(share)
    return share * count


class Peak:
    """One peak; ``height`` is EGT at the top of ``self`` [degF], ``left``, ``right`` and
    ``middle`` are flows [gal/h].
    """

    height: float
    left: float
    right: float
    middle: float
    lag_s: float
    width: float
    """Of the top [1]."""
    name: str

    @property
    def reach(self) -> float:
        """How far it reaches [gal/h]."""
        return self.height
'''


def test_a_docstring_that_agrees_is_let_pass() -> None:
    assert offences(source("leanwright.engine.planted", RIGHT)) == []


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ("share: float, count", "share: float, other: int, count", "parameter other is not documented"),
        ("count: int = 1) ->", "**count: int) ->", None),
        ("    share\n", "    shares\n", "parameter share is not documented"),
        ("    share\n", "    shares\n", "documents shares, which is no parameter"),
        ("fuel [1]", "fuel", "parameter share has no unit in square brackets"),
        ("Flow [gal/h].", "Flow.", "its result has no unit in square brackets in a section Returns"),
        (
            "    ValueError\n        If",
            "    TypeError\n        If",
            "raises ValueError, which is not documented",
        ),
        ("share: float, count: int", "count: int, share: float", "documents its parameters in another order"),
        (
            "    height: float",
            "    height: float\n    left: float\n    depth: float",
            "field depth has no unit",
        ),
        (" [degF], ``left``", ", ``left``", "field height has no unit in square brackets"),
        ("    height: float", "    depth: float", "field depth has no unit in square brackets"),
        ("    lag_s: float", "    lag: float", "field lag has no unit in square brackets"),
        ("Of the top [1].", "Of the top.", "field width has no unit in square brackets"),
        ("reaches [gal/h]", "reaches", "is a number without a unit"),
        ('    """How far it reaches [gal/h]."""\n', "", "has no docstring"),
        ("    right: float", "    far: float", "field far has no unit in square brackets"),
    ],
)
def test_a_planted_disagreement_is_named(right: str, wrong: str, said: str | None) -> None:
    assert RIGHT.count(right) == 1
    found = offences(source("leanwright.engine.planted", RIGHT.replace(right, wrong)))
    if said is None:
        assert found == []
    else:
        assert any(said in offence for offence in found), found
