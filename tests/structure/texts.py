"""Which English texts the package gives to people as findings and refusals, told from the source alone."""

import ast
from functools import cache
from typing import Final

import jinja2

from tests.structure.codes import UnknownCodeError, argument, calls, sources_of
from tests.structure.sources import PACKAGE, Source, sources

# Of each class its arguments that are texts for people, by place and name.
TEXTS: Final[dict[str, tuple[tuple[int, str], ...]]] = {
    "Finding": ((2, "message"),),
    "Kind": ((0, "what"), (1, "next_step")),
    **dict.fromkeys(
        (
            "UnusableFileError",
            "UnusableNozzleSetError",
            "UnusableStockError",
            "UnusableAircraftError",
            "UnusableApprovalError",
            "UnusableBottleTestError",
            "UnusableLimitsError",
            "UnusableHealthError",
            "UnusableTroubleshootingError",
            "UnusablePlanError",
            "UnusableWorkError",
            "UnusableBookError",
            "DamagedBookError",
            "_LostError",
            "UnreachableClusterError",
        ),
        ((1, "reason"), (2, "next_step")),
    ),
    "NozzleRuleError": ((0, "reason"),),
    "SkippedLine": ((1, "reason"),),
    "RefusedEntryError": ((1, "reason"), (2, "next_step")),
    "NothingToPrintError": ((0, "reason"), (1, "next_step")),
    "UnusableCorrectionError": ((1, "reason"),),
    **dict.fromkeys(
        (
            "UnusableSweepError",
            "UnusableOptionError",
            "UnusableBackupError",
            "UnwritableBookError",
            "UnwritablePlaceError",
        ),
        ((1, "reason"),),
    ),
    "NotInBookError": ((0, "what"),),
    "Refusal": ((1, "title"), (2, "what_to_do")),
    "unusable": ((0, "why"),),
    "not_found": ((0, "what"),),
    "Field": ((2, "meaning"),),
    "Table": ((1, "meaning"),),
    **dict.fromkeys(
        (
            "UnreadableRecordingError",
            "UnreachableRecordingError",
            "EmptyRecordingError",
            "NotDelimitedTextError",
            "NoHeaderError",
            "TooLargeError",
            "RefusedArchiveError",
            "SeveralRecordingsError",
        ),
        ((1, "reason"), (2, "next_step")),
    ),
}  # fmt: skip


WORDED: Final = frozenset(
    {"small modules", "recordings", "engine", "analysis", "survey", "book", "workbench", "cli", "web"}
)
"""The rooms whose texts all languages say."""
TEMPLATES: Final = PACKAGE / "web" / "templates"
PASS_ON: Final = frozenset({"leanwright.told", "leanwright.workbench.plain_text", "leanwright.web.show"})
"""Where the class itself stands, and where texts come back from plain data, they are made of what is given."""


def patterns(module: Source) -> set[str]:
    """The patterns of the texts that a module gives to people.

    Raises
    ------
    UnknownCodeError
        If a text is put together so that another language cannot say it.
    """
    found: set[str] = set()
    for call in calls(module.tree, "Told"):
        if module.name not in PASS_ON or isinstance(call.args[0], ast.Constant):
            found |= written(call.args[0], module)
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "Told.of":
            found |= plain(node.args[0], module)
    for name, places in TEXTS.items():
        for call in calls(module.tree, name):
            for place, word in places:
                text = argument(call, place, word)
                found |= set() if text is None else plain(text, module)
    return found


def written(pattern: ast.expr, module: Source) -> set[str]:
    """The patterns that a text with values may have."""
    match pattern:
        case ast.Constant(value=str(text)):
            return {text}
        case ast.IfExp(body=one, orelse=other):
            return written(one, module) | written(other, module)
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return {one + other for one in written(left, module) for other in written(right, module)}
        case ast.Name(id=name) if name.isupper() or name.lstrip("_").isupper():
            return written(constant(name, module), module)
    raise UnknownCodeError(f"{module.name}:{pattern.lineno}: {ast.unparse(pattern)}")


def plain(text: ast.expr, module: Source) -> set[str]:
    """The patterns of a text that may have no values; what came from elsewhere is told where it was made."""
    match text:
        case ast.Constant(value=str(words)):
            return {words.replace("{", "{{").replace("}", "}}")} - {""}
        case ast.IfExp(body=one, orelse=other):
            return plain(one, module) | plain(other, module)
        case ast.BoolOp(values=ways):
            return set().union(*(plain(way, module) for way in ways))
        case ast.Name(id=name) if name.lstrip("_").isupper():
            return plain(constant(name, module), module)
        case ast.Name(id=name):
            try:
                bound = sources_of(name, text, module.tree)
            except UnknownCodeError:
                return set()
            return set().union(*(plain(way, module) for way in bound))
        case ast.JoinedStr() | ast.BinOp():
            raise UnknownCodeError(f"{module.name}:{text.lineno}: {ast.unparse(text)}")
    return set()


def constant(name: str, module: Source) -> ast.expr:
    """The value of a constant at the top of a module, or of the one that it was imported from."""
    for node in module.tree.body:
        match node:
            case ast.AnnAssign(target=ast.Name(id=found), value=ast.expr() as value) if found == name:
                return value
            case ast.Assign(targets=[ast.Name(id=found)], value=value) if found == name:
                return value
            case ast.ImportFrom(module=str(origin), names=names):
                for one in names:
                    if (one.asname or one.name) == name:
                        return constant(one.name, by_name()[origin])
    raise UnknownCodeError(f"{module.name}: {name}")


@cache
def by_name() -> dict[str, Source]:
    """Every module by its dotted name."""
    return {module.name: module for module in sources()}


@cache
def all_patterns() -> set[str]:
    """Every pattern of the package, those of the pages of the workbench among them."""
    return page_patterns().union(*(patterns(module) for module in sources() if module.room in WORDED))


def page_patterns() -> set[str]:
    """The patterns that the templates of the workbench say.

    Raises
    ------
    UnknownCodeError
        If one is not written out where it is said.
    """
    found: set[str] = set()
    for template in sorted(TEMPLATES.glob("*.j2")):
        tree = jinja2.Environment().parse(template.read_text("utf-8"))  # noqa: S701  it is read, not rendered
        for call in tree.find_all(jinja2.nodes.Call):
            if isinstance(call.node, jinja2.nodes.Name) and call.node.name == "say":
                found |= said(call.args[0], template.name)
    return found


def said(pattern: jinja2.nodes.Node, template: str) -> set[str]:
    """The patterns that one place of a template may say."""
    match pattern:
        case jinja2.nodes.Const(value=str(text)):
            return {text}
        case jinja2.nodes.CondExpr(expr1=one, expr2=other) if other is not None:
            return said(one, template) | said(other, template)
    raise UnknownCodeError(f"{template}:{pattern.lineno}: a text that is not written out")
