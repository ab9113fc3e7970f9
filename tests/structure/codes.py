"""Which codes the package gives to its statements and findings, told from the source alone."""

import ast
import itertools
import sys
from collections.abc import Iterable, Iterator
from typing import Final, get_args

from leanwright.analysis.balance import Verdict
from leanwright.analysis.peak import Status
from leanwright.analysis.sweep import Direction
from tests.structure.sources import Source

# A code may be put together with a word of a fixed set: f"verdict-{answer.verdict}".
WORDS_BY_NAME: Final = {
    "verdict": get_args(Verdict),
    "status": tuple(status for status in get_args(Status) if status != "peaked"),  # that needs no reason
    "direction": get_args(Direction),
    "bound_side": ("below", "above"),
}


class UnknownCodeError(Exception):
    """A code that cannot be told from the source."""


def calls(tree: ast.AST, name: str) -> Iterator[ast.Call]:
    """Every call of a function or class by its bare name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name:
            yield node


def argument(call: ast.Call, place: int, name: str) -> ast.expr | None:
    """One argument of a call, given by place or by name; ``None`` if it is not given."""
    if place < len(call.args):
        return call.args[place]
    return next((word.value for word in call.keywords if word.arg == name), None)


def codes(module: Source, kind: str, place: int) -> set[str]:
    """The codes that a module gives to its statements (``place`` 0) or findings (``place`` 1).

    Raises
    ------
    UnknownCodeError
        If a code is not written out, nor put together from what is.
    """
    found: set[str] = set()
    for call in calls(module.tree, kind):
        code = argument(call, place, "code")
        try:
            found |= set() if code is None else values(code, module.tree)
        except UnknownCodeError as error:
            raise UnknownCodeError(f"{module.name}:{call.lineno}: cannot tell the code {error}") from error
    return found


def values(expression: ast.expr, module: ast.Module) -> set[str]:
    """Every text that an expression may stand for."""
    match expression:
        case ast.Constant(value=str(text)):
            return {text}
        case ast.IfExp(body=one, orelse=other):
            return values(one, module) | values(other, module)
        case ast.JoinedStr(values=parts):
            return {
                "".join(pieces) for pieces in itertools.product(*(values(part, module) for part in parts))
            }
        case ast.FormattedValue(value=ast.Name(id=name) | ast.Attribute(attr=name)) if name in WORDS_BY_NAME:
            return set(WORDS_BY_NAME[name])
        case ast.Subscript(value=ast.Name(id=name)):
            return union(table_entries(name, module), module)
        case ast.Name(id=name):
            return union(sources_of(name, expression, module), module)
    raise UnknownCodeError(ast.unparse(expression))


def union(expressions: Iterable[ast.expr], module: ast.Module) -> set[str]:
    """Every text that any of some expressions may stand for."""
    return set().union(*(values(expression, module) for expression in expressions))


def table_entries(name: str, module: ast.Module) -> list[ast.expr]:
    """The values of a dictionary that stands at the top of the module."""
    for node in module.body:
        match node:
            case (
                ast.AnnAssign(target=ast.Name(id=found), value=ast.Dict(values=entries))
                | ast.Assign(targets=[ast.Name(id=found)], value=ast.Dict(values=entries))
            ) if found == name:
                return entries
    raise UnknownCodeError(f"{name}[…]")


def sources_of(name: str, use: ast.Name, module: ast.Module) -> list[ast.expr]:
    """What a name inside a function may be bound to: assignments, loops over written-out rows, arguments of calls."""
    function = enclosing_function(use, module)
    found: list[ast.expr] = []
    for node in ast.walk(function):
        if isinstance(node, ast.Assign) and any(
            isinstance(t, ast.Name) and t.id == name for t in node.targets
        ):
            found.append(node.value)
        elif isinstance(node, ast.For | ast.comprehension):
            found += looped(name, node.target, node.iter)
    by_place = [parameter.arg for parameter in [*function.args.posonlyargs, *function.args.args]]
    if name in by_place or any(parameter.arg == name for parameter in function.args.kwonlyargs):
        place = by_place.index(name) if name in by_place else sys.maxsize
        given = (argument(call, place, name) for call in calls(module, function.name))
        found += [value for value in given if value is not None]
    if not found:
        raise UnknownCodeError(name)
    return found


def looped(name: str, target: ast.expr, rows: ast.expr) -> list[ast.expr]:
    """What a loop over a written-out tuple or list binds a name to."""
    if not isinstance(rows, ast.Tuple | ast.List):
        return []
    if isinstance(target, ast.Name) and target.id == name:
        return rows.elts
    if isinstance(target, ast.Tuple):
        for place, part in enumerate(target.elts):
            if isinstance(part, ast.Name) and part.id == name:
                return [row.elts[place] for row in rows.elts if isinstance(row, ast.Tuple)]
    return []


def enclosing_function(use: ast.AST, module: ast.Module) -> ast.FunctionDef:
    """The innermost function that a node stands in."""
    holders = [node for node in ast.walk(module) if isinstance(node, ast.FunctionDef) and holds(node, use)]
    if not holders:
        raise UnknownCodeError(ast.unparse(use))
    return max(holders, key=lambda node: node.lineno)


def holds(tree: ast.AST, wanted: ast.AST) -> bool:
    """Whether a node stands below another."""
    return any(node is wanted for node in ast.walk(tree))
