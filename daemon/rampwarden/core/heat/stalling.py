"""Whether a climb will come to a stand short of its end: the asymptote of its last half hour.

T = T∞ − A e^(−t/τ), the course of any body that is heated by an even flame: for a range of τ the rest is a straight
line fitted by least squares, and each τ counts by how well it fits. Own arithmetic; the times are those of small
furnaces.
"""

import math
from collections import deque
from dataclasses import dataclass

# Means are joined to points so far apart, and as many looked at as make 40 minutes.
_APART_S, _MOST_POINTS = 30.0, 80
_FEWEST_POINTS = 30
_TAUS_S = (300.0, 450.0, 700.0, 1000.0, 1500.0, 2200.0, 3300.0, 5000.0)
_NOISE_C2 = 0.15**2
_ALIKE = 4.0
# It is said when the stand lies so far short, nine times in ten and more, and for so many points on end.
_SHORT_C, _SIGMAS, _STANDS_FOR = 8.0, 2.0, 6


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

    def feed(self, time_s: float, temp_c: float, end_c: float) -> None:
        """Take a mean on the way to `end_c` (°C)."""
        if self._means and time_s - self._means[0][0] >= _APART_S:
            count = len(self._means)
            point = (sum(each[0] for each in self._means) / count, sum(each[1] for each in self._means) / count)
            self._means.clear()
            self._points.append(point)
            self._judge(end_c)
        self._means.append((time_s, temp_c))

    def _judge(self, end_c: float) -> None:
        stand = asymptote(list(self._points))
        is_short = stand is not None and stand.at_c + _SIGMAS * stand.sd_c < end_c - _SHORT_C
        self._short = self._short + 1 if is_short else 0
        self.stops_near_c = stand.at_c if stand is not None and self._short >= _STANDS_FOR else None


def asymptote(points: list[tuple[float, float]]) -> Stand | None:
    """Give where points (s, °C) lead to in the end; None while they are few or do not level off."""
    if len(points) < _FEWEST_POINTS or points[-1][1] <= points[0][1]:
        return None
    now_s = points[-1][0]
    straight = _line([(time_s - now_s, temp_c) for time_s, temp_c in points])
    tried = []
    for tau_s in _TAUS_S:
        line = _line([(-math.exp((now_s - time_s) / tau_s), temp_c) for time_s, temp_c in points])
        if line is not None and line[1] > 0.0:
            tried.append(line)
    if straight is None or not tried:
        return None
    least = min(line[2] for line in tried)
    power = 0.5 * len(points) / _ALIKE
    if (straight[2] / least) ** power < math.e**3:
        return None
    weights = [(least / line[2]) ** power for line in tried]
    whole = sum(weights)
    at_c = sum(weight * line[0] for weight, line in zip(weights, tried, strict=True)) / whole
    squares = sum(
        weight * ((line[0] - at_c) ** 2 + line[3] ** 2) for weight, line in zip(weights, tried, strict=True)
    )
    return Stand(at_c, math.sqrt(squares / whole))


def _line(course: list[tuple[float, float]]) -> tuple[float, float, float, float] | None:
    """Fit y = at + slope x; gives at, slope, the mean square of what is left, and the standard deviation of at."""
    count = len(course)
    mean_x, mean_y = sum(x for x, _ in course) / count, sum(y for _, y in course) / count
    xx = sum((x - mean_x) ** 2 for x, _ in course)
    if xx <= 0.0:
        return None
    slope = sum((x - mean_x) * (y - mean_y) for x, y in course) / xx
    left_c2 = sum((y - mean_y - slope * (x - mean_x)) ** 2 for x, y in course) / count + _NOISE_C2
    sd = math.sqrt(left_c2 * _ALIKE * (1.0 / count + mean_x**2 / xx))
    return mean_y - slope * mean_x, slope, left_c2, sd
