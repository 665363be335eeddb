"""Courses as vectors: what of one lies along others, and what is left beside them."""

import math
from collections.abc import Iterable, Sequence
from operator import mul


def dot(one: Sequence[float], other: Sequence[float]) -> float:
    """Give the product of two courses as far as the shorter one goes."""
    total: float = sum(map(mul, one, other))
    return total


def beside(course: Sequence[float], basis: Iterable[Sequence[float]], power: float = 0.0) -> tuple[list[float], float]:
    """Give what is left of a course beside an orthonormal `basis`, and of its `power`."""
    rest = list(course)
    for line in basis:
        along = dot(rest, line)
        power -= along * along
        rest = [value - along * unit for value, unit in zip(rest, line, strict=True)]
    return rest, power


def orthonormal(shapes: Iterable[Sequence[float]]) -> tuple[list[float], ...]:
    """Take out of each course what it shares with those before, and make it one long."""
    basis: list[list[float]] = []
    for shape in shapes:
        rest, _ = beside(shape, basis)
        size = 1.0 / math.sqrt(dot(rest, rest))
        basis.append([value * size for value in rest])
    return tuple(basis)
