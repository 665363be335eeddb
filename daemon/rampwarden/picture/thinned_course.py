"""The course of a heat kept for displays: the last half hour fine, all before it ever coarser; memory stays flat.

Knows believed temperatures with their corridor, and nothing of who draws them.
"""

from bisect import bisect_right
from collections import deque

from msgspec import Struct

from rampwarden.core.limits import Edges

# A terminal's strip and a phone's screen have fewer columns than half an hour has pieces of two seconds.
FINE_SPAN_S = 1800.0
_FINE_S = 2.0
# With those some 1900 points at most: a heat of three days is then drawn every four to nine minutes.
_MOST_COARSE = 1000
_COARSE_S = 4.0


class CoursePoint(Struct, frozen=True, gc=False, array_like=True):
    """One moment of the course: heat time (s), mean temperature, and the edges that were allowed then, all °C."""

    time_s: float
    temp_c: float
    low_c: float | None
    high_c: float | None


class ThinnedCourse:
    """Takes temperatures in the order they were measured; not safe to share between threads."""

    def __init__(self) -> None:
        self._fine: deque[CoursePoint] = deque()
        self._coarse: list[CoursePoint] = []
        self._coarse_s = _COARSE_S
        self._span_from_s: float | None = None
        self._sum_c = 0.0
        self._count = 0
        self._last: CoursePoint | None = None

    def feed(self, time_s: float, temp_c: float, edges: Edges) -> None:
        """Take one believed temperature, °C, and the edges that hold for it."""
        if self._span_from_s is not None and time_s - self._span_from_s >= _FINE_S:
            self._close_span()
        if self._span_from_s is None:
            self._span_from_s = time_s
        self._sum_c += temp_c
        self._count += 1
        self._last = CoursePoint(time_s, temp_c, edges.low_c, edges.high_c)

    def points(self, until_s: float) -> tuple[CoursePoint, ...]:
        """Give the course up to a time, oldest first."""
        newest = () if self._last is None else (self._mean(self._last),)
        points = (*self._coarse, *self._fine, *newest)
        return points[: bisect_right(points, until_s, key=lambda point: point.time_s)]

    def _close_span(self) -> None:
        if self._last is not None:
            self._fine.append(self._mean(self._last))
        self._span_from_s, self._sum_c, self._count = None, 0.0, 0
        newest_s = self._fine[-1].time_s
        while self._fine[0].time_s < newest_s - FINE_SPAN_S:
            self._keep_coarse(self._fine.popleft())

    def _keep_coarse(self, point: CoursePoint) -> None:
        coarse = self._coarse
        if not coarse or point.time_s - coarse[-1].time_s >= self._coarse_s:
            coarse.append(point)
        if len(coarse) > _MOST_COARSE:
            # Every other point: what is left stands twice as far apart.
            self._coarse_s *= 2.0
            del coarse[1::2]

    def _mean(self, last: CoursePoint) -> CoursePoint:
        low_c, high_c = (None if edge is None else round(edge, 1) for edge in (last.low_c, last.high_c))
        return CoursePoint(round(last.time_s, 1), round(self._sum_c / self._count, 1), low_c, high_c)
