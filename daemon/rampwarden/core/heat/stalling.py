"""Whether a climb will come to a stand short of its end: the asymptote of its last 25 minutes.

T = T∞ − A e^(−t/τ), the course of any body that is heated by an even flame: for a range of τ the rest is a straight
line fitted by least squares, and each τ counts by how well it fits. Own arithmetic; the times are those of small
furnaces.
"""

import math
from collections import deque
from dataclasses import dataclass

# Means are joined to points so far apart, and as many looked at as make 25 minutes.
_APART_S, _MOST_POINTS = 30.0, 50
_FEWEST_POINTS = 30
_TAUS_S = (300.0, 450.0, 700.0, 1000.0, 1500.0, 2200.0, 3300.0, 5000.0)
_NOISE_C2 = 0.15**2
_ALIKE = 4.0
_CLEARLY = math.e**3
# It is said when the stand lies so far short, nine times in ten and more, and for so many points on end.
_SHORT_C, _SIGMAS, _STANDS_FOR = 8.0, 2.0, 6
_SLOW_SHARE, _NOW_POINTS = 0.35, 11


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a climb would come to a stand, and its standard deviation, °C."""

    at_c: float
    sd_c: float


class StallWatch:
    """Follows one climb; `stops_near_c` is where it will stop, None while it may well get where it should."""

    def __init__(self) -> None:
        self._points: deque[tuple[float, float]] = deque(maxlen=_MOST_POINTS)
        self._means: list[tuple[float, float]] = []
        self._short = 0
        self.stops_near_c: float | None = None

    def restart(self) -> None:
        """Forget what was: another segment begins, or nobody watched."""
        self._points.clear()
        self._means.clear()
        self._short = 0
        self.stops_near_c = None

    def feed(self, time_s: float, temp_c: float, end_c: float, limit: float | None) -> None:
        """Take a mean on the way to `end_c` (°C), under a limit (°C/s) if there is one."""
        if self._means and time_s - self._means[0][0] >= _APART_S:
            count = len(self._means)
            point = (sum(each[0] for each in self._means) / count, sum(each[1] for each in self._means) / count)
            self._means.clear()
            self._points.append(point)
            self._judge(end_c, limit)
        self._means.append((time_s, temp_c))

    def _judge(self, end_c: float, limit: float | None) -> None:
        # Who still climbs at a good share of the limit has only slowed down from a brisk start.
        is_brisk = limit is not None and self._now_c_per_s() > _SLOW_SHARE * limit
        stand = None if is_brisk else asymptote(list(self._points))
        is_short = stand is not None and stand.at_c + _SIGMAS * stand.sd_c < end_c - _SHORT_C
        self._short = self._short + 1 if is_short else 0
        self.stops_near_c = stand.at_c if stand is not None and self._short >= _STANDS_FOR else None

    def _now_c_per_s(self) -> float:
        points = list(self._points)[-_NOW_POINTS:]
        span_s = points[-1][0] - points[0][0]
        return (points[-1][1] - points[0][1]) / span_s if span_s > 0.0 else 0.0


def asymptote(points: list[tuple[float, float]]) -> Stand | None:
    """Give where points (s, °C) lead to in the end; None while they are few or do not level off."""
    tried = _levelling(points)
    if not tried:
        return None
    whole = sum(weight for weight, _, _ in tried)
    at_c = sum(weight * line.at for weight, _, line in tried) / whole
    squares = sum(weight * ((line.at - at_c) ** 2 + line.sd**2) for weight, _, line in tried)
    return Stand(at_c, math.sqrt(squares / whole))


def _levelling(points: list[tuple[float, float]]) -> list[tuple[float, float, "_Line"]]:
    """Give each time constant with how well it fits (1 the best) and its line; nothing where a straight one does."""
    if len(points) < _FEWEST_POINTS or points[-1][1] <= points[0][1]:
        return []
    now_s = points[-1][0]
    straight = _line([(time_s - now_s, temp_c) for time_s, temp_c in points])
    tried = []
    for tau_s in _TAUS_S:
        line = _line([(-math.exp((now_s - time_s) / tau_s), temp_c) for time_s, temp_c in points])
        if line.slope > 0.0:
            tried.append((tau_s, line))
    if not tried:
        return []
    least = min(line.left_c2 for _, line in tried)
    power = 0.5 * len(points) / _ALIKE
    if (straight.left_c2 / least) ** power < _CLEARLY:
        return []
    return [((least / line.left_c2) ** power, tau_s, line) for tau_s, line in tried]


@dataclass(frozen=True, slots=True)
class _Line:
    """y = at + slope x, the mean square of what is left, and the standard deviation of `at`."""

    at: float
    slope: float
    left_c2: float
    sd: float


def _line(course: list[tuple[float, float]]) -> _Line:
    """Fit a line by least squares; x is never the same throughout."""
    count = len(course)
    mean_x, mean_y = sum(x for x, _ in course) / count, sum(y for _, y in course) / count
    xx = sum((x - mean_x) ** 2 for x, _ in course)
    slope = sum((x - mean_x) * (y - mean_y) for x, y in course) / xx
    left_c2 = sum((y - mean_y - slope * (x - mean_x)) ** 2 for x, y in course) / count + _NOISE_C2
    sd = math.sqrt(left_c2 * _ALIKE * (1.0 / count + mean_x**2 / xx))
    return _Line(mean_y - slope * mean_x, slope, left_c2, sd)
