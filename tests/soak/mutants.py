"""Small wrongs put into a module one at a time, to learn whether its tests notice.

A mutant changes one operator, one comparison, one constant, one return value, or leaves one guard
out. Left alone are docstrings, type annotations, decorators and the words of errors: a change
there is no wrong arithmetic.
"""

import ast
from collections.abc import Iterator
from dataclasses import dataclass

SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
TYPING = ("Literal", "Final", "NDArray", "TypeVar", "Mapping", "__all__", "cast")
# A longer expression says no more about the place than the changed part alone.
LONGEST_CONTEXT = 72


@dataclass(frozen=True)
class Mutant:
    """One changed module. `key` names the change by its text, so that lines may move."""

    key: str
    line: int
    source: str


@dataclass(frozen=True)
class _Site:
    """A node that is changed, where it stands, and the text that takes its place."""

    node: ast.expr | ast.stmt
    place: str
    parent: ast.AST
    text: str


def mutants_of(source: str) -> list[Mutant]:
    """Every mutant of a module, in the order of its lines; equal keys are numbered."""
    seen: dict[str, int] = {}
    mutants = []
    for site in _sites(ast.parse(source), ast.Module([], []), "module"):
        key = f"{site.place}: {_change(site)}"
        seen[key] = seen.get(key, 0) + 1
        numbered = key if seen[key] == 1 else f"{key} ({seen[key]})"
        mutants.append(Mutant(numbered, site.node.lineno, _replaced(source, site)))
    return mutants


def _change(site: _Site) -> str:
    before = ast.unparse(site.node)
    context = "" if isinstance(site.node, ast.stmt) else ast.unparse(site.parent)
    where = f" in {context}" if context and len(context) <= LONGEST_CONTEXT else ""
    return " ".join(f"{before} -> {site.text}{where}".split())


def _replaced(source: str, site: _Site) -> str:
    # Offsets of the syntax tree count bytes of a line, not characters.
    lines = source.encode().splitlines(keepends=True)
    node = site.node
    start = sum(map(len, lines[: node.lineno - 1])) + node.col_offset
    stop = sum(map(len, lines[: (node.end_lineno or node.lineno) - 1])) + (node.end_col_offset or 0)
    whole = b"".join(lines)
    text = site.text if isinstance(node, ast.stmt) else f"({site.text})"
    return (whole[:start] + text.encode() + whole[stop:]).decode()


def _sites(node: ast.AST, parent: ast.AST, place: str) -> Iterator[_Site]:
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        place = node.name if place == "module" else f"{place}.{node.name}"
    if isinstance(node, ast.expr | ast.stmt):
        for text in _texts(node, parent):
            yield _Site(node, place, parent, text)
    for child in _children(node):
        yield from _sites(child, node, place)


def _children(node: ast.AST) -> list[ast.AST]:
    """The parts of a node whose change would be wrong arithmetic."""
    if isinstance(node, ast.Raise | ast.JoinedStr | ast.Import | ast.ImportFrom):
        return []
    if isinstance(node, ast.Subscript | ast.Call) and _is_typing(
        node.value if isinstance(node, ast.Subscript) else node.func
    ):
        return []
    if isinstance(node, ast.FunctionDef):
        return [*node.args.defaults, *filter(None, node.args.kw_defaults), *_without_doc(node)]
    if isinstance(node, ast.ClassDef | ast.Module):
        return _without_doc(node)
    if isinstance(node, ast.AnnAssign):
        return [node.value] if node.value else []
    if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
        return []
    return list(ast.iter_child_nodes(node))


def _is_typing(node: ast.expr) -> bool:
    return ast.unparse(node).rsplit(".", 1)[-1] in TYPING


def _without_doc(node: ast.FunctionDef | ast.ClassDef | ast.Module) -> list[ast.AST]:
    first = 0 if ast.get_docstring(node) is None else 1
    return list(node.body[first:])


def _texts(node: ast.expr | ast.stmt, parent: ast.AST) -> Iterator[str]:
    """What may take the place of this node."""
    if isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in SWAPS:
        # Operands keep brackets of their own, so only the operator changes.
        sides = [node.left, node.right] if isinstance(node, ast.BinOp) else node.values
        sign = _sign(SWAPS[type(node.op)])
        yield f" {sign} ".join(f"({ast.unparse(side)})" for side in sides)
    elif isinstance(node, ast.Compare):
        yield from _compared(node)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield ast.unparse(node.operand)
    elif isinstance(node, ast.Constant):
        yield from _other_constant(node, parent)
    elif isinstance(node, ast.AugAssign) and type(node.op) in SWAPS:
        sign = _sign(SWAPS[type(node.op)])
        yield f"{ast.unparse(node.target)} {sign}= {ast.unparse(node.value)}"
    elif isinstance(node, ast.Return) and node.value is not None:
        yield "return None" if ast.unparse(node.value) != "None" else "return 1"
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield "pass"


def _compared(node: ast.Compare) -> Iterator[str]:
    for place, op in enumerate(node.ops):
        ops = [*node.ops[:place], SWAPS[type(op)](), *node.ops[place + 1 :]]
        yield ast.unparse(ast.Compare(node.left, ops, node.comparators))


def _other_constant(node: ast.Constant, parent: ast.AST) -> Iterator[str]:
    value = node.value
    if isinstance(value, bool):
        yield str(not value)
    elif isinstance(value, int):
        yield str(value + 1)
    elif isinstance(value, float):
        # Doubled, so that a small coefficient goes as wrong as a large one.
        yield repr(value * 2 or 1.0)
    elif isinstance(value, str) and not isinstance(parent, ast.Expr):
        yield repr(f"{value}~")


def _sign(operator: type[ast.AST]) -> str:
    signs = {
        ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.BitAnd: "&", ast.BitOr: "|",
        ast.LShift: "<<", ast.RShift: ">>", ast.And: "and", ast.Or: "or",
    }  # fmt: skip
    return signs[operator]
