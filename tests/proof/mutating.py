"""Mutants of a module: its source with one small fault each, made from its syntax tree."""

from __future__ import annotations

import ast
import copy
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_COMPARES: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,), ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}  # fmt: skip
_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult,
    ast.Pow: ast.Mult, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr, ast.BitXor: ast.BitOr, ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}  # fmt: skip
_CALLS = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor"}
# The order of their arguments says nothing, or a swap is another kind of fault than a slip of the pen.
_EITHER_WAY = {"min", "max", "isinstance", "getattr", "hypot", "isclose", "gcd", "print", "cast", "TypeVar", "replace"}
_NAME = 60
_LONGEST = 100


@dataclass(frozen=True)
class Mutant:
    """One fault: where (`function` is '' outside of functions), the text before and after, and the whole source.

    `lines` are those of the statement, or of the head of a compound one. `outer` is the outermost function around it and
    the line where it begins; None if the fault shows while the module is imported.
    """

    module: str
    function: str
    line: int
    text: str
    source: ast.Module
    lines: range
    outer: tuple[str, int] | None

    @property
    def name(self) -> str:
        return f"{self.module} | {self.function} | {self.text}"


@dataclass(frozen=True)
class _Place:
    """A node that may be changed: its field in its parent, and the nodes above it, outermost first."""

    node: ast.AST
    above: tuple[ast.AST, ...]


def mutants(module: str, path: Path) -> list[Mutant]:
    """All mutants of the module in `path`, by line. Names are unique: equal texts of one function are numbered."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: list[Mutant] = []
    seen: Counter[tuple[str, str]] = Counter()
    for place in sorted(_places(tree, ()), key=lambda p: (p.node.lineno, p.node.col_offset)):  # type: ignore[attr-defined]
        function = ".".join(n.name for n in place.above if isinstance(n, ast.FunctionDef | ast.ClassDef))
        for other in _others(place):
            text = _text(place, other)
            if text is None:
                continue
            seen[function, text] += 1
            many = seen[function, text]
            numbered = text if many == 1 else f"{text} #{many}"
            line = place.node.lineno  # type: ignore[attr-defined]
            changed = _with(place, other)
            found.append(Mutant(module, function, line, numbered, changed, _lines(place), _outer(place)))
    return found


def _places(node: ast.AST, above: tuple[ast.AST, ...]) -> Iterator[_Place]:
    """What counts: no docstrings, annotations, decorators, messages, type checking or `__repr__`."""
    if isinstance(node, ast.expr | ast.stmt):
        yield _Place(node, above)
    for field, value in ast.iter_fields(node):
        if _left_out(node, field, above):
            continue
        for child in value if isinstance(value, list) else (value,):
            if isinstance(child, ast.AST):
                yield from _places(child, (*above, node))


def _lines(place: _Place) -> range:
    """Lines of the widest expression or simple statement around it."""
    widest = place.node
    for node in reversed(place.above):
        if not isinstance(node, ast.expr | ast.keyword | ast.comprehension) and (
            not isinstance(node, ast.stmt) or hasattr(node, "body")
        ):
            break
        widest = node if isinstance(node, ast.expr | ast.stmt) else widest
    return range(widest.lineno, widest.end_lineno + 1)  # type: ignore[attr-defined]


def _outer(place: _Place) -> tuple[str, int] | None:
    words = []
    for node, below in zip(place.above, (*place.above[1:], place.node), strict=True):
        if isinstance(node, ast.ClassDef):
            words.append(node.name)
        elif isinstance(node, ast.FunctionDef):
            begin = min([node.lineno, *(d.lineno for d in node.decorator_list)])
            return None if isinstance(below, ast.arguments) else (".".join([*words, node.name]), begin)
        elif isinstance(node, ast.Lambda):
            return None
    return None


def _left_out(node: ast.AST, field: str, above: tuple[ast.AST, ...]) -> bool:
    if field in {"annotation", "returns", "decorator_list", "format_spec", "type_params", "bases"}:
        return True
    if isinstance(node, ast.Raise) or (isinstance(node, ast.FunctionDef) and node.name == "__repr__"):
        return True
    if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
        return True
    # An alias of types, at the level of the module.
    inside = any(isinstance(n, ast.FunctionDef) for n in above)
    return isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitOr) and not inside


def _others(place: _Place) -> Iterator[ast.AST | None]:
    """What may stand in its place; None: nothing."""
    node, parent = place.node, place.above[-1]
    if isinstance(node, ast.Compare):
        for at, operator in enumerate(node.ops):
            for new in _COMPARES[type(operator)]:
                yield _changed(node, ops=[*node.ops[:at], new(), *node.ops[at + 1 :]])
    elif isinstance(node, ast.BinOp | ast.AugAssign):
        if type(node.op) in _OPERATORS and not _of_text(node):
            yield _changed(node, op=_OPERATORS[type(node.op)]())
    elif isinstance(node, ast.BoolOp):
        yield _changed(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield node.operand
    elif isinstance(node, ast.Constant):
        yield from (ast.Constant(new) for new in _constants(node.value))
    elif isinstance(node, ast.Call):
        yield from _calls(node)
    if isinstance(node, ast.stmt):
        yield from _statements(node)
    if isinstance(node, ast.expr) and node is getattr(parent, "test", None) and not _is_not(node):
        yield ast.UnaryOp(ast.Not(), node)
    if isinstance(parent, ast.comprehension) and node in parent.ifs and not _is_not(node):
        yield ast.UnaryOp(ast.Not(), node)


def _is_not(node: ast.AST) -> bool:
    return isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not)


def _of_text(node: ast.BinOp | ast.AugAssign) -> bool:
    sides = (node.left, node.right) if isinstance(node, ast.BinOp) else (node.value,)
    return any(
        isinstance(s, ast.JoinedStr) or (isinstance(s, ast.Constant) and isinstance(s.value, str)) for s in sides
    )


def _constants(value: object) -> tuple[bool | int | float, ...]:
    if isinstance(value, bool):
        return (not value,)
    if isinstance(value, int):
        return value + 1, value - 1
    if isinstance(value, float):
        return (value + 1, value - 1) if abs(value) >= 1 else (value * 2, value / 2) if value else (1.0, -1.0)
    return ()


def _calls(node: ast.Call) -> Iterator[ast.AST]:
    function = node.func
    last = (
        function.id if isinstance(function, ast.Name) else function.attr if isinstance(function, ast.Attribute) else ""
    )
    if last in _CALLS:
        new = (
            _changed(function, id=_CALLS[last])
            if isinstance(function, ast.Name)
            else _changed(function, attr=_CALLS[last])
        )
        yield _changed(node, func=new)
    words = node.args
    plain = len(words) > 1 and not any(isinstance(word, ast.Starred) for word in words[:2])
    if plain and last not in _EITHER_WAY and ast.unparse(words[0]) != ast.unparse(words[1]):
        yield _changed(node, args=[words[1], words[0], *words[2:]])


def _statements(node: ast.stmt) -> Iterator[ast.AST | None]:
    if isinstance(node, ast.Break):
        yield ast.Continue()
    elif isinstance(node, ast.Continue):
        yield ast.Break()
    elif isinstance(node, ast.Return) and node.value is not None and ast.unparse(node.value) != "None":
        yield ast.Return(ast.Constant(None))
    elif isinstance(node, ast.Expr):
        if not (isinstance(node.value, ast.Constant)):
            yield None
    elif isinstance(node, ast.AugAssign | ast.Raise | ast.Delete) or (
        isinstance(node, ast.Assign) and all(isinstance(t, ast.Subscript | ast.Attribute) for t in node.targets)
    ):
        yield None


def _changed(node: ast.AST, **fields: object) -> ast.AST:
    new = copy.copy(node)
    for name, value in fields.items():
        setattr(new, name, value)
    return new


def _text(place: _Place, other: ast.AST | None) -> str | None:
    """Before and after, with as much around it as stays short; None if the two read the same."""
    before, after = place.node, other
    shown = (_line(before), "removed" if after is None else _line(after))
    child: ast.AST = place.node
    for parent in reversed(place.above):
        if after is None or not isinstance(parent, ast.expr | ast.keyword | ast.Return | ast.Assign | ast.Expr):
            break
        after = _put(parent, child, after)
        child = parent
        longer = (_line(parent), _line(after))
        if max(map(len, longer)) > _NAME:
            break
        shown = longer
    return None if shown[0] == shown[1] else " -> ".join(shown)


def _line(node: ast.AST) -> str:
    text = " ".join(ast.unparse(ast.fix_missing_locations(copy.copy(node))).split())
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST // 2]} ... {text[-_LONGEST // 2 :]}"


def _put(parent: ast.AST, child: ast.AST, new: ast.AST | None) -> ast.AST:
    """A copy of `parent` with `new` where `child` was; a removed statement becomes `pass`."""
    if new is None:
        new = ast.Pass()
    fields: dict[str, object] = {}
    for field, value in ast.iter_fields(parent):
        if value is child:
            fields[field] = new
        elif isinstance(value, list) and any(v is child for v in value):
            fields[field] = [new if v is child else v for v in value]
    return _changed(parent, **fields)


def _with(place: _Place, other: ast.AST | None) -> ast.Module:
    new: ast.AST | None = other
    if new is None:
        new = ast.Pass()
    ast.copy_location(new, place.node)
    child: ast.AST = place.node
    for parent in reversed(place.above):
        new = _put(parent, child, new)
        child = parent
    assert isinstance(new, ast.Module)
    return ast.fix_missing_locations(new)
