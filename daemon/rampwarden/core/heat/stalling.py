"""Whether a climb will come to a stand short of its end: where its last 25 minutes lead to."""

import math
from collections import deque
from dataclasses import dataclass

from rampwarden.core.heat.levelling import levels

# Means are joined to points so far apart, and as many looked at as make 25 minutes.
_APART_S, _MOST_POINTS = 30.0, 50
_FEWEST_POINTS = 30
_CLEARLY = math.e**3
# No furnace is one body: its course strays from the law by so much of what was climbed. Own arithmetic.
_ASTRAY = 0.004
# Deep walls drink for hours: what is still ahead is as unsure as this share of it. Own arithmetic.
_AHEAD_SHARE = 0.25
# And nothing is said of a stand that is further off than what was seen of the way to it, but for the last of it.
_SEEN_SHARE, _NEAR_C = 0.8, 60.0
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
    """Give where points (s, °C) lead to in the end; None while they are few or do not clearly level off."""
    if len(points) < _FEWEST_POINTS or points[-1][1] <= points[0][1]:
        return None
    tried = levels(points, _ASTRAY * (points[-1][1] - points[0][1]))
    whole = sum(each.weight for each in tried)
    if not tried or max(each.weight for each in tried) < _CLEARLY:
        return None
    at_c = sum(each.weight * each.line.at for each in tried) / whole
    ahead_c, climbed_c = max(at_c - points[-1][1], 0.0), points[-1][1] - points[0][1]
    if ahead_c > max(_SEEN_SHARE * climbed_c, _NEAR_C):
        return None
    squares = sum(each.weight * ((each.line.at - at_c) ** 2 + each.line.sd**2) for each in tried)
    return Stand(at_c, math.sqrt(squares / whole + (_AHEAD_SHARE * ahead_c) ** 2))
