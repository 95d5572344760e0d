"""One small slip at a time in a module's source: what `tests/mutants.py` plants."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from typing import NamedTuple

_TURNED = {
    ast.Lt: ast.Gt,
    ast.Gt: ast.Lt,
    ast.LtE: ast.GtE,
    ast.GtE: ast.LtE,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_OTHER_SIGN = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
_OTHER_END = {
    first: second
    for low, high in (
        ("min", "max"),
        ("minimum", "maximum"),
        ("nanmin", "nanmax"),
        ("argmin", "argmax"),
        ("nanargmin", "nanargmax"),
        ("idxmin", "idxmax"),
        ("floor", "ceil"),
        ("any", "all"),
    )
    for first, second in ((low, high), (high, low))
}
_NO_NUMBERS = (ast.List, ast.Tuple, ast.JoinedStr, ast.ListComp, ast.Set, ast.Dict)


class Mutant(NamedTuple):
    """A module with one slip in it.

    Parameters
    ----------
    file : str
        Its path inside the tree.
    line : int
        Where the slip begins.
    function : str
        The function or class round it, by its path inside the module; empty outside of all.
    before, after : str
        The lines concerned, in one.
    begin, end : int
        What the slip replaces, in bytes of the module.
    text : str
        What stands there instead.
    """

    file: str
    line: int
    function: str
    before: str
    after: str
    begin: int
    end: int
    text: str

    def planted(self, source: str) -> str:
        """Return the sound module's source with the slip in it."""
        whole = source.encode()
        return (whole[: self.begin] + self.text.encode() + whole[self.end :]).decode()

    def told(self) -> str:
        """Return place, before and after in words."""
        where = f" in {self.function}" if self.function else ""
        return f"{self.file}:{self.line}{where}\n    - {self.before}\n    + {self.after}"


def mutants_of(source: str, file: str) -> list[Mutant]:
    """Return every mutant of a module, compiled functions left out.

    Parameters
    ----------
    source : str
        The module.
    file : str
        Its path inside the tree.
    """
    whole = source.encode()
    starts = [0]
    for line in whole.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    found = []
    for node, function in _open_nodes(ast.parse(source), ""):
        for text in _slips(node):
            first, last = starts[node.lineno - 1], starts[node.end_lineno]
            begin, end = first + node.col_offset, starts[node.end_lineno - 1] + node.end_col_offset
            lines = whole[first:begin] + text.encode() + whole[end:last]
            before, after = (" ".join(each.decode().split()) for each in (whole[first:last], lines))
            found.append(Mutant(file, node.lineno, function, before, after, begin, end, text))
    return found


def _open_nodes(node: ast.AST, function: str) -> Iterator[tuple[ast.AST, str]]:
    """Yield the nodes that may slip, each with the function round it."""
    for name, value in ast.iter_fields(node):
        # Annotations do nothing; the parts of an f-string have no places of their own.
        if name in ("annotation", "returns", "decorator_list", "type_comment"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or isinstance(child, ast.JoinedStr):
                continue
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                if not _is_compiled(child):
                    inner = f"{function}.{child.name}" if function else child.name
                    yield from _open_nodes(child, inner)
                continue
            yield child, function
            yield from _open_nodes(child, function)


def _is_compiled(node: ast.FunctionDef | ast.ClassDef) -> bool:
    return any("compiled" in ast.unparse(each) for each in node.decorator_list)


def _slips(node: ast.AST) -> Iterator[str]:
    """Yield what may stand in a node's place by mistake."""
    match node:
        case ast.Constant(value=bool(value)):
            yield str(not value)
        case ast.Constant(value=int(value) | float(value)):
            yield repr({0: 1, 1: 0}.get(value, value + 1) * type(value)(1))
        case ast.BinOp(op=op) if type(op) in _OTHER_SIGN and not _joins_words(node):
            yield _with(node, op=_OTHER_SIGN[type(op)]())
        case ast.AugAssign(op=op, value=value) if type(op) in _OTHER_SIGN:
            if not isinstance(value, _NO_NUMBERS) and not _is_word(value):
                yield _with(node, op=_OTHER_SIGN[type(op)]())[1:-1]
        case ast.Compare(ops=ops):
            for place, op in enumerate(ops):
                turned = [*ops[:place], _TURNED[type(op)](), *ops[place + 1 :]]
                yield _with(node, ops=turned)
        case ast.BoolOp(op=op):
            yield _with(node, op=ast.Or() if isinstance(op, ast.And) else ast.And())
        case ast.UnaryOp(op=ast.Not() | ast.Invert(), operand=operand):
            yield f"({ast.unparse(operand)})"
        case ast.Call(func=ast.Name(id=name)) if name in _OTHER_END:
            yield _called(node, ast.Name(_OTHER_END[name]))
        case ast.Call(func=ast.Attribute(attr=name) as func) if name in _OTHER_END:
            yield _called(node, ast.Attribute(func.value, _OTHER_END[name]))


def _with(node: ast.AST, **changed: object) -> str:
    """Return a node's text with parts replaced, in parentheses of its own."""
    other = copy.copy(node)
    for name, value in changed.items():
        setattr(other, name, value)
    return f"({ast.unparse(other)})"


def _called(node: ast.Call, function: ast.expr) -> str:
    return ast.unparse(ast.Call(function, node.args, node.keywords))


def _joins_words(node: ast.BinOp) -> bool:
    sides = (node.left, node.right)
    return any(isinstance(side, _NO_NUMBERS) or _is_word(side) for side in sides)


def _is_word(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str | bytes)
