"""Edges: where a limit lets the temperature be at this moment, by the very figures its judge compares.

An edge lies as far from the present temperature as the judge's own comparison has left: 25 °C in 15 minutes, 18 of them
climbed, puts it 7 °C above. So a dot drawn between the edges and an alarm cannot disagree; what is kept for noise
(`margin_c`) is all that lies between leaving an edge and its finding.
"""

from collections.abc import Iterable

from msgspec import Struct


class Edge(Struct, frozen=True, gc=False):
    """One limit's edge, °C: `alarm` is found beyond it by more than `margin_c`; `upper`: it bounds from above."""

    alarm: str
    edge_c: float
    margin_c: float
    upper: bool

    def crossed_by(self, temp_c: float) -> bool:
        """Tell whether a temperature (°C) stands beyond the edge by more than its margin."""
        beyond_c = temp_c - self.edge_c if self.upper else self.edge_c - temp_c
        return beyond_c > self.margin_c


class Edges(Struct, frozen=True, gc=False):
    """The lowest and highest temperature allowed at one moment, °C; None: no limit on that side."""

    low_c: float | None = None
    high_c: float | None = None


def tightest(edges: Iterable[Edge]) -> Edges:
    """Give the corridor that all these edges leave."""
    low_c = high_c = None
    for edge in edges:
        if edge.upper:
            high_c = lower(high_c, edge.edge_c)
        else:
            low_c = higher(low_c, edge.edge_c)
    return Edges(low_c, high_c)


def lower(one: float | None, other: float) -> float:
    """Give the lower of two edges, °C; None is no edge."""
    return other if one is None else min(one, other)


def higher(one: float | None, other: float) -> float:
    """Give the higher of two edges, °C; None is no edge."""
    return other if one is None else max(one, other)
