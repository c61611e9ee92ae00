"""Slips in Python code, one at a time: what could have been typed instead, read off the syntax tree.

Words are not touched (docstrings, f-strings, what an exception says), nor annotations, decorators, asserts
and `__all__`: no figure hangs on them, or a type checker or a reader holds them.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass

__all__ = ["CODE_KINDS", "CodeMutant", "code_mutants"]

CODE_KINDS = {
    "edge": "a comparison that counts its edge in, or no longer",
    "comparison": "a comparison turned round",
    "arithmetic": "another operation",
    "operand": "one side of `and`, `or`, `&`, `|` left out",
    "and-or": "`and` for `or`, `&` for `|`, and the other way",
    "condition": "a condition denied",
    "filter": "a condition of a comprehension left out",
    "number": "a figure doubled; a whole number one more",
    "flag": "True for False, and the other way",
    "sign": "a minus, `not` or `~` left out",
    "first-only": "a loop that sees the first only",
    "statement": "a call, a change, a refusal or a jump left out",
    "choice": "the two answers of `where` swapped",
    "function": "min for max, any for all, and the like",
    "entry": "the last entry of a table or list left out",
}
"""Every kind of slip, and what it is."""

_EDGES = {ast.Lt: ("<", "<="), ast.LtE: ("<=", "<"), ast.Gt: (">", ">="), ast.GtE: (">=", ">")}
_TURNED = {
    ast.Lt: ("<", ">="), ast.LtE: ("<=", ">"), ast.Gt: (">", "<="), ast.GtE: (">=", "<"),
    ast.Eq: ("==", "!="), ast.NotEq: ("!=", "=="), ast.Is: ("is", "is not"), ast.IsNot: ("is not", "is"),
    ast.In: ("in", "not in"), ast.NotIn: ("not in", "in"),
}  # fmt: skip
_OTHER = {
    ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "/"), ast.Mod: ("%", "*"), ast.Pow: ("**", "*"),
}  # fmt: skip
_BITS = {ast.BitAnd: ("&", "|"), ast.BitOr: ("|", "&")}
_PAIRS = {
    "min": "max", "any": "all", "minimum": "maximum", "floor": "ceil", "logical_or": "logical_and",
    "zeros": "ones", "or_": "and_", "union": "intersection",
}  # fmt: skip
_NAMES = _PAIRS | {other: name for name, other in _PAIRS.items()}
_WORDS = frozenset({"annotation", "returns", "decorator_list"})
"""Fields of the syntax tree in which no slip is made."""


@dataclass(frozen=True, slots=True)
class CodeMutant:
    """One slip: `old` at bytes `start` to `end` of a file, for which `new` is typed. `inside`: the function
    or class."""

    kind: str
    file: str
    line: int
    inside: str
    old: str
    new: str
    start: int
    end: int

    def applied_to(self, code: bytes) -> bytes:
        """The file with the slip in it."""
        return code[: self.start] + self.new.encode() + code[self.end :]

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.kind}: {_on_a_line(self.old)} -> {_on_a_line(self.new)}"


def _on_a_line(code: str) -> str:
    words = " ".join(code.split())
    return words if len(words) <= 100 else f"{words[:60]} ... {words[-35:]}"


def code_mutants(file: str, code: bytes) -> tuple[CodeMutant, ...]:
    """Every slip in a file, in the order of its lines. Raises SyntaxError for what is no Python."""
    found = sorted(_Slips(file, code).made(), key=lambda one: (one.start, one.end, one.kind, one.new))
    return tuple(one for one in found if one.new != one.old and _is_python(one.applied_to(code)))


def _is_python(code: bytes) -> bool:
    try:
        ast.parse(code)
    except SyntaxError:
        return False
    return True


class _Slips:
    def __init__(self, file: str, code: bytes) -> None:
        self.file, self.code = file, code
        self.lines = [0]
        for line in code.splitlines(keepends=True):
            self.lines.append(self.lines[-1] + len(line))

    def made(self) -> Iterator[CodeMutant]:
        for node, inside, in_function in _reached(ast.parse(self.code), "", False):
            for kind, at, new in (*self._of_expression(node, in_function), *self._of_statement(node)):
                start, end = self._span(at)
                old = self.code[start:end].decode()
                yield CodeMutant(kind, self.file, at.lineno, inside, old, new, start, end)

    def _span(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        assert node.end_lineno is not None and node.end_col_offset is not None
        start = self.lines[node.lineno - 1] + node.col_offset
        return start, self.lines[node.end_lineno - 1] + node.end_col_offset

    def _text(self, node: ast.expr | ast.stmt) -> str:
        start, end = self._span(node)
        return self.code[start:end].decode()

    def _of_expression(
        self, node: ast.AST, in_function: bool
    ) -> Iterator[tuple[str, ast.expr | ast.stmt, str]]:
        match node:
            case ast.Compare():
                sides = [node.left, *node.comparators]
                for i, operator in enumerate(node.ops):
                    for kind, table in (("edge", _EDGES), ("comparison", _TURNED)):
                        if type(operator) in table:
                            yield (
                                kind,
                                node,
                                self._between(node, sides[i], sides[i + 1], table[type(operator)]),
                            )
            case ast.BinOp(op=operator) if type(operator) in _OTHER:
                between = self._between(node, node.left, node.right, _OTHER[type(operator)])
                yield "arithmetic", node, between
            case ast.BinOp(op=operator) if type(operator) in _BITS and in_function:  # outside: of types
                yield "and-or", node, self._between(node, node.left, node.right, _BITS[type(operator)])
                yield from (("operand", node, f"({self._text(side)})") for side in (node.left, node.right))
            case ast.BoolOp():
                word = " and " if isinstance(node.op, ast.Or) else " or "
                parts = [f"({self._text(one)})" for one in node.values]
                yield "and-or", node, f"({word.join(parts)})"
                word = " or " if isinstance(node.op, ast.Or) else " and "
                for i in range(len(parts)):
                    yield "operand", node, f"({word.join(parts[:i] + parts[i + 1 :])})"
            case ast.UnaryOp(op=ast.USub() | ast.Not() | ast.Invert()):
                yield "sign", node, f"({self._text(node.operand)})"
            case ast.IfExp():
                yield from self._denied(node.test)
            case ast.comprehension():
                yield "first-only", node.iter, _first(self._text(node.iter))
                yield from (("filter", test, "True") for test in node.ifs)
            case ast.Constant(value=bool() as value):
                yield "flag", node, str(not value)
            case ast.Constant(value=int() as value):
                yield "number", node, str(value + 1)
            case ast.Constant(value=float() as value):
                yield "number", node, repr(2 * value or 1.0)
            case ast.Call(func=function, args=[one]) if _name(function) == "abs":
                yield "function", node, f"({self._text(one)})"
            case ast.Call(func=function, args=[_, one, other]) if _name(function) == "where":
                yield "choice", node, self._swapped(node, one, other)
            case ast.Name(id=name) | ast.Attribute(attr=name) if name in _NAMES:
                yield "function", node, self._text(node).removesuffix(name) + _NAMES[name]
            case ast.List(elts=[*_, before, last], ctx=ast.Load()) | ast.Set(elts=[*_, before, last]):
                yield "entry", node, self._without(node, before, last)
            case ast.Dict(keys=[_, *_, _], values=[*_, before, last]):
                yield "entry", node, self._without(node, before, last)

    def _of_statement(self, node: ast.AST) -> Iterator[tuple[str, ast.expr | ast.stmt, str]]:
        match node:
            case ast.If() | ast.While():
                yield from self._denied(node.test)
            case ast.For():
                yield "first-only", node.iter, _first(self._text(node.iter))
            case ast.Expr(value=ast.Call() | ast.Yield() | ast.YieldFrom()):
                yield "statement", node, "pass"
            case ast.AugAssign() | ast.Raise() | ast.Break() | ast.Continue():
                yield "statement", node, "pass"
            case ast.Assign(targets=[ast.Attribute() | ast.Subscript()]):
                yield "statement", node, "pass"

    def _between(self, node: ast.expr, left: ast.expr, right: ast.expr, operators: tuple[str, str]) -> str:
        """The node's text with another operator between two of its sides."""
        start, end = self._span(node)
        one, other = self._span(left)[1], self._span(right)[0]
        operator = self.code[one:other].decode().replace(*operators, 1)
        return self.code[start:one].decode() + operator + self.code[other:end].decode()

    def _swapped(self, node: ast.expr, one: ast.expr, other: ast.expr) -> str:
        start, end = self._span(node)
        (a, b), (c, d) = self._span(one), self._span(other)
        pieces = (self.code[start:a], self.code[c:d], self.code[b:c], self.code[a:b], self.code[d:end])
        return b"".join(pieces).decode()

    def _without(self, node: ast.expr, before: ast.expr, last: ast.expr) -> str:
        """The text of a display up to the entry before its last."""
        start, end = self._span(node)
        after = self.code[self._span(last)[1] : end]
        return (self.code[start : self._span(before)[1]] + after).decode()

    def _denied(self, test: ast.expr) -> Iterator[tuple[str, ast.expr | ast.stmt, str]]:
        """A condition denied, but where another slip does just that."""
        match test:
            case ast.Compare(ops=[_]) | ast.UnaryOp(op=ast.Not()):
                return
        yield "condition", test, f"(not ({self._text(test)}))"


def _name(function: ast.expr) -> str:
    return function.id if isinstance(function, ast.Name) else getattr(function, "attr", "")


def _first(things: str) -> str:
    return f'__import__("itertools").islice({things}, 1)'


def _reached(node: ast.AST, inside: str, in_function: bool) -> Iterator[tuple[ast.AST, str, bool]]:
    """Every part of a syntax tree in which a slip is made, with the function or class that it lies in."""
    match node:
        case ast.Assert() | ast.JoinedStr():
            return
        case ast.Assign(targets=[ast.Name(id="__all__")]):
            return
        case ast.FunctionDef(name=name) | ast.ClassDef(name=name):
            inside = f"{inside}.{name}".lstrip(".")
    in_function = in_function or isinstance(node, ast.FunctionDef | ast.Lambda)
    yield node, inside, in_function
    if isinstance(node, ast.Raise):
        return
    for field, value in ast.iter_fields(node):
        if field not in _WORDS:
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    yield from _reached(child, inside, in_function)
