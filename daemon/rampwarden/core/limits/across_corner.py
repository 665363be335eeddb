"""A climb across a corner: what began under one segment's limits and goes on under the next one's.

Each limit alone judges its own side. But 22 °C at the end of one segment and 22 at the beginning of the next are 44 °C
within one window, and the wall knows nothing of segments. Across the corner the climb may be what the laxer of the two
allows within that window, so no heat that keeps both limits steadily is blamed for it.

The windows are those of both segments. A limit that ends goes on watching for one window more; for the window of one
that begins, the temperatures just before the corner are kept.
"""

from collections import deque

from rampwarden.core.limits.climb_budget import BudgetState, ClimbBudget
from rampwarden.core.model import Noise
from rampwarden.core.quantities import Rate

# Temperatures kept of a window that is yet to come: it is drawn through them well enough.
_KEPT_OF_WINDOW = 60


def allowed_climb_c(limits: tuple[Rate, ...], window_s: float) -> float:
    """Give what a segment's limits let the temperature climb (fall, of a cooling) within a window, °C."""
    return min(rate.climb_c * max(1.0, window_s / rate.window_s) for rate in limits)


class RecentCourse:
    """The believed temperatures of the last `window_s` seconds, averaged into so many points."""

    __slots__ = ("_count", "_points", "_spacing_s", "_sum_c", "_until_s", "window_s")

    def __init__(self, window_s: float) -> None:
        self.window_s = window_s
        self._spacing_s = window_s / _KEPT_OF_WINDOW
        self._points: deque[tuple[float, float]] = deque(maxlen=_KEPT_OF_WINDOW + 1)
        self._sum_c = 0.0
        self._count = 0
        self._until_s: float | None = None

    def feed(self, time_s: float, temp_c: float) -> None:
        """Add a temperature (°C) at `time_s` (s, rising)."""
        if self._until_s is None:
            self._until_s = time_s + self._spacing_s
        self._sum_c += temp_c
        self._count += 1
        if time_s >= self._until_s:
            self._points.append((time_s, self._sum_c / self._count))
            self._sum_c, self._count = 0.0, 0
            self._until_s = time_s + self._spacing_s

    def since(self, time_s: float) -> list[tuple[float, float]]:
        """Give the points (s, °C) from `time_s` on."""
        return [point for point in self._points if point[0] >= time_s]


class CornerWatch:
    """One window across a corner; `rate` is what the laxer side allows within it, judged until `ends_s`."""

    __slots__ = ("_budget", "ends_s", "rate")

    def __init__(self, budget: ClimbBudget, rate: Rate, ends_s: float) -> None:
        self._budget = budget
        self.rate = rate
        self.ends_s = ends_s
        budget.allow(rate.climb_c)

    def relax(self, limits: tuple[Rate, ...], time_s: float) -> "CornerWatch":
        """Go on across one more corner, into a segment of these limits."""
        climb_c = max(self.rate.climb_c, allowed_climb_c(limits, self.rate.window_s))
        return CornerWatch(self._budget, Rate(climb_c, self.rate.window_s), time_s + self.rate.window_s)

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> BudgetState:
        """Add a believed temperature (°C) at `time_s` (s, rising); gives where the climb stands."""
        return self._budget.feed(time_s, temp_c, noise)


def corner_watches(
    ended: list[tuple[Rate, ClimbBudget]],
    begun: tuple[Rate, ...],
    before: list[RecentCourse],
    time_s: float,
    noise: Noise,
    *,
    falling: bool,
) -> list[CornerWatch]:
    """Give the watches across the corner at `time_s`, from one segment's limits and budgets to the next one's limits.

    `before` holds the recent course for windows of the limits that begin and that no budget that ended has.
    """
    limits = tuple(rate for rate, _ in ended)
    watches = []
    for rate, budget in ended:
        climb_c = max(allowed_climb_c(limits, rate.window_s), allowed_climb_c(begun, rate.window_s))
        watches.append(CornerWatch(budget, Rate(climb_c, rate.window_s), time_s + rate.window_s))
    for course in before:
        climb_c = max(allowed_climb_c(limits, course.window_s), allowed_climb_c(begun, course.window_s))
        rate = Rate(climb_c, course.window_s)
        budget = ClimbBudget(rate.climb_c, rate.window_s, falling=falling)
        for point_s, temp_c in course.since(time_s - course.window_s):
            budget.feed(point_s, temp_c, noise)
        watches.append(CornerWatch(budget, rate, time_s + rate.window_s))
    return watches
