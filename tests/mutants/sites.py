"""Where a module can be changed, and into what: text for text, so that lines stay where they are.

Changed are comparisons (flipped, and moved by their boundary), arithmetic, numbers, ``and`` /
``or`` / ``not``, True / False, conditions, returned values, ``break`` / ``continue``, min / max,
and calls made for their effect alone. Not changed: annotations, docstrings, decorators, texts,
and what only a type checker reads.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass

COMPARE: dict[type[ast.cmpop], tuple[str, ...]] = {
    ast.Lt: ("<=", ">="), ast.LtE: ("<", ">"), ast.Gt: (">=", "<="), ast.GtE: (">", "<"),
    ast.Eq: ("!=",), ast.NotEq: ("==",), ast.Is: ("is not",), ast.IsNot: ("is",),
    ast.In: ("not in",), ast.NotIn: ("in",),
}  # fmt: skip
WRITTEN: dict[type[ast.AST], str] = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=",
    ast.Is: "is", ast.IsNot: "is not", ast.In: "in", ast.NotIn: "not in", ast.Add: "+",
    ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.FloorDiv: "//", ast.Mod: "%", ast.Pow: "**",
    ast.BitAnd: "&", ast.BitOr: "|", ast.And: "and", ast.Or: "or",
}  # fmt: skip
ARITHMETIC: dict[type[ast.operator], tuple[str, ...]] = {
    ast.Add: ("-",), ast.Sub: ("+",), ast.Mult: ("/",), ast.Div: ("*",), ast.FloorDiv: ("*",),
    ast.Mod: ("*",), ast.Pow: ("*",), ast.BitAnd: ("|",), ast.BitOr: ("&",),
}  # fmt: skip
OTHER_NAME = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change."""

    start: int
    """Offset of the text that goes."""
    end: int
    new: str
    line: int
    """From 1."""
    place: str
    """Function or class it stands in, dotted; empty at the module's top."""

    def applied(self, source: str) -> str:
        """The module's text with the change in it."""
        return source[: self.start] + self.new + source[self.end :]

    def told(self, source: str) -> str:
        """Its line before and after, on one line."""
        text = self.applied(source)
        first = source.rfind("\n", 0, self.start) + 1
        tail = len(source) - source.find("\n", self.end)
        before, after = source[first : len(source) - tail], text[first : len(text) - tail]
        return f"{' '.join(before.split())}  =>  {' '.join(after.split())}"


class _Finder(ast.NodeVisitor):
    def __init__(self, source: str) -> None:
        self.source = source
        self.lines = [0]
        for line in source.split("\n"):
            self.lines.append(self.lines[-1] + len(line) + 1)
        self.places: list[str] = []
        self.found: list[Mutant] = []

    def _at(self, line: int, column: int) -> int:
        text = self.source[self.lines[line - 1] : self.lines[line]]
        return self.lines[line - 1] + len(text.encode()[:column].decode())

    def _span(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        assert node.end_lineno is not None and node.end_col_offset is not None
        return self._at(node.lineno, node.col_offset), self._at(
            node.end_lineno, node.end_col_offset
        )

    def _add(self, start: int, end: int, *new: str) -> None:
        line = self.source.count("\n", 0, start) + 1
        self.found += [Mutant(start, end, n, line, ".".join(self.places)) for n in new]

    def _between(self, left: ast.expr, right: ast.expr, old: str, new: tuple[str, ...]) -> None:
        """Change an operator, which the tree gives no place for."""
        start, end = self._span(left)[1], self._span(right)[0]
        gap = self.source[start:end]
        at = gap.find(old)
        if at >= 0 and gap.count(old) == 1 and "#" not in gap:
            self._add(start + at, start + at + len(old), *new)

    def _inside(self, node: ast.FunctionDef | ast.ClassDef) -> None:
        self.places.append(node.name)
        given: list[ast.expr | None] = []
        if isinstance(node, ast.FunctionDef):
            given = [*node.args.kw_defaults, *node.args.defaults]
        for part in [*given, *node.body]:
            if part is not None:
                self.visit(part)
        self.places.pop()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self._inside(node)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self._inside(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_Assign(self, node: ast.Assign) -> None:
        # an alias of types: Heard = Down | Told
        if not (isinstance(node.value, ast.BinOp | ast.Subscript) and not self.places):
            self.generic_visit(node)

    def visit_Assert(self, node: ast.Assert) -> None:
        """Told to the type checker."""

    def visit_Call(self, node: ast.Call) -> None:
        if isinstance(node.func, ast.Name):
            if node.func.id == "cast":
                return
            if node.func.id in OTHER_NAME:
                self._add(*self._span(node.func), OTHER_NAME[node.func.id])
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        left = node.left
        for op, right in zip(node.ops, node.comparators, strict=True):
            self._between(left, right, WRITTEN[type(op)], COMPARE[type(op)])
            left = right
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        if type(node.op) in ARITHMETIC:
            self._between(node.left, node.right, WRITTEN[type(node.op)], ARITHMETIC[type(node.op)])
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        new = "or" if isinstance(node.op, ast.And) else "and"
        for left, right in zip(node.values, node.values[1:], strict=False):
            self._between(left, right, WRITTEN[type(node.op)], (new,))
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        start, _ = self._span(node)
        inner, _ = self._span(node.operand)
        if isinstance(node.op, ast.Not | ast.USub):
            # a bracket between the two stays
            sign = "not" if isinstance(node.op, ast.Not) else "-"
            self._add(start, inner, self.source[start + len(sign) : inner].lstrip())
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        span = self._span(node)
        value = node.value
        if isinstance(value, bool):
            self._add(*span, str(not value))
        elif isinstance(value, int):
            self._add(*span, str(value + 1), str(value - 1) if value else "2")
        elif isinstance(value, float):
            self._add(*span, repr(value * 1.5 if value else 1.0), repr(value * 0.5 or -1.0))

    def _condition(self, test: ast.expr) -> None:
        start, end = self._span(test)
        if not isinstance(test, ast.Compare | ast.Constant):
            self._add(start, end, f"(not ({self.source[start:end]}))")

    def visit_If(self, node: ast.If) -> None:
        self._condition(node.test)
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self._condition(node.test)
        self.generic_visit(node)

    def visit_While(self, node: ast.While) -> None:
        self._condition(node.test)
        self.generic_visit(node)

    def visit_Return(self, node: ast.Return) -> None:
        if node.value is not None and not isinstance(node.value, ast.Constant):
            self._add(*self._span(node.value), "None")
        self.generic_visit(node)

    def visit_Break(self, node: ast.Break) -> None:
        self._add(*self._span(node), "continue")

    def visit_Continue(self, node: ast.Continue) -> None:
        self._add(*self._span(node), "break")

    def visit_Expr(self, node: ast.Expr) -> None:
        if isinstance(node.value, ast.Call):
            self._add(*self._span(node), "pass")
        self.generic_visit(node)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Texts are compared by their own tests."""


def statement(source: str, line: int) -> range:
    r"""The lines of the innermost statement that holds a line, of a compound one its head.

    >>> statement("for a in (\n    1,\n    2):\n    print(a,\n          a)\n", 3)
    range(1, 4)
    """
    held = range(line, line + 1)
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.stmt):
            body = getattr(node, "body", None)
            last = body[0].lineno - 1 if body else node.end_lineno or node.lineno
            if node.lineno <= line <= last:
                held = range(node.lineno, last + 1)  # the walk goes from outer to inner
    return held


def mutants(source: str) -> list[Mutant]:
    r"""All changes of a module, in the order of their places.

    >>> sorted(m.new for m in mutants("def f(a):\n    return a < 1\n"))
    ['0', '2', '<=', '>=', 'None']
    """
    finder = _Finder(source)
    finder.visit(ast.parse(source))
    return sorted(set(finder.found), key=lambda m: (m.start, m.end, m.new))
