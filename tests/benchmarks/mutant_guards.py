"""The guards of a source text, and the text with one of them broken.

Four kinds count: comparisons, bounds (`min`, `max`, clips, lengths of queues), raises, and syncs to the disk. Each is
broken so that the program behaves differently: `<` becomes `>=` and not `<=`, which is often as good; a raise falls
through; a sync is left out. Text that is no program (docstrings and their examples, blocks for type checkers or for
being run as a script) has no guards.
"""

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

_OPPOSITES: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE,
    ast.GtE: ast.Lt,
    ast.Gt: ast.LtE,
    ast.LtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_SWAPPED = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "fmin": "fmax", "fmax": "fmin"}
_CLIPS = {"clip", "clamp", "clamped"}
_SYNCS = {"fsync", "fdatasync", "flush", "sync"}
# What an argument that bounds a queue means when there is no bound.
_UNBOUNDED = {"maxlen": "None", "maxsize": "0"}


class Kind(StrEnum):
    """What sort of guard it is."""

    COMPARISON = "comparison"
    BOUND = "bound"
    RAISE = "raise"
    SYNC = "sync"


@dataclass(frozen=True, order=True)
class Guard:
    """A guard in a file: where it stands (lines from 1, columns in bytes from 0), and what breaks it."""

    path: str
    line: int
    column: int
    end_line: int
    end_column: int
    kind: Kind
    text: str
    broken: str

    def break_in(self, source: str) -> str:
        """Give the text of the file with this guard broken."""
        lines = source.encode().splitlines(keepends=True)
        before = b"".join(lines[: self.line - 1]) + lines[self.line - 1][: self.column]
        after = lines[self.end_line - 1][self.end_column :] + b"".join(lines[self.end_line :])
        return (before + self.broken.encode() + after).decode()


def guards_of(path: str, source: str) -> list[Guard]:
    """Give the guards of a file in the order of their places; raises SyntaxError if it is no Python."""
    found = []
    for node in _program(ast.parse(source)):
        broken = _broken(node)
        if broken is None or node.end_lineno is None or node.end_col_offset is None:
            continue
        kind, text = broken
        original = ast.get_source_segment(source, node) or ""
        guard = Guard(path, node.lineno, node.col_offset, node.end_lineno, node.end_col_offset, kind, original, text)
        if _is_whole(original, node) and _is_python(guard.break_in(source)):
            found.append(guard)
    return sorted(found)


def _is_whole(text: str, node: ast.AST) -> bool:
    """Whether a node's place is right: Python 3.11 misplaces some of what stands in a text of several lines."""
    try:
        body = ast.parse(f"({text})" if isinstance(node, ast.expr) else text).body[0]
    except SyntaxError:
        return False
    return ast.dump(body.value if isinstance(body, ast.Expr) else body) == ast.dump(node)


def _is_python(source: str) -> bool:
    try:
        ast.parse(source)
    except SyntaxError:
        return False
    return True


def _program(node: ast.AST) -> Iterator[ast.expr | ast.stmt]:
    """Walk everything that runs when the package is used."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and _is_no_part_of_it(child.test):
            for rest in child.orelse:
                yield from _program(rest)
            continue
        if isinstance(child, ast.expr | ast.stmt):
            yield child
        yield from _program(child)


def _is_no_part_of_it(test: ast.expr) -> bool:
    names = {each.id for each in ast.walk(test) if isinstance(each, ast.Name)}
    names |= {each.attr for each in ast.walk(test) if isinstance(each, ast.Attribute)}
    return bool(names & {"TYPE_CHECKING", "__name__"})


def _broken(node: ast.expr | ast.stmt) -> tuple[Kind, str] | None:
    if isinstance(node, ast.Compare):
        return _kind_of(node), _opposite(node)
    if isinstance(node, ast.Raise):
        return Kind.RAISE, "pass"
    if isinstance(node, ast.Call):
        return _broken_call(node)
    return None


def _kind_of(node: ast.Compare) -> Kind:
    """A comparison of a length is a bound."""
    sides = (node.left, *node.comparators)
    lengths = any(isinstance(side, ast.Call) and _name(side) == "len" for side in sides)
    ordered = all(isinstance(each, ast.Lt | ast.LtE | ast.Gt | ast.GtE) for each in node.ops)
    return Kind.BOUND if lengths and ordered else Kind.COMPARISON


def _opposite(node: ast.Compare) -> str:
    if len(node.ops) > 1:
        return f"(not ({ast.unparse(node)}))"
    opposite = ast.Compare(node.left, [_OPPOSITES[type(node.ops[0])]()], node.comparators)
    return f"({ast.unparse(opposite)})"


def _broken_call(node: ast.Call) -> tuple[Kind, str] | None:
    name = _name(node)
    if name in _SYNCS:
        return Kind.SYNC, "None"
    if name in _CLIPS and node.args:
        return Kind.BOUND, f"({ast.unparse(node.args[0])})"
    if name in _SWAPPED and not (isinstance(node.func, ast.Attribute) and not node.args):
        swapped = (
            ast.Name(_SWAPPED[name])
            if isinstance(node.func, ast.Name)
            else ast.Attribute(node.func.value, _SWAPPED[name])  # type: ignore[attr-defined]
        )
        return Kind.BOUND, ast.unparse(ast.Call(swapped, node.args, node.keywords))
    limits = [keyword for keyword in node.keywords if keyword.arg in _UNBOUNDED]
    if limits and not (isinstance(limits[0].value, ast.Constant) and limits[0].value.value is None):
        keywords = [
            ast.keyword(each.arg, ast.parse(_UNBOUNDED[each.arg], mode="eval").body) if each in limits else each  # type: ignore[index]
            for each in node.keywords
        ]
        return Kind.BOUND, ast.unparse(ast.Call(node.func, node.args, keywords))
    return None


def _name(call: ast.Call) -> str:
    if isinstance(call.func, ast.Name):
        return call.func.id
    return call.func.attr if isinstance(call.func, ast.Attribute) else ""
