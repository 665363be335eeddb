"""Where the schedule lets the temperature be: the corridor, as it was and as it is.

The edges are the alarms' own rules drawn as temperatures. A limit of 25 °C in 15 minutes puts the upper edge 25 °C
above the lowest of the last 15 minutes; a least rate puts the lower edge so far above where the temperature stood a
window ago; a soak has its band, a ceiling is an edge. Margins for noise and delays are left out, so an alarm comes a
little after its edge is crossed.

Knows one heat's believed temperatures and its schedule; draws nothing and raises no alarm.
"""

from collections import deque

from msgspec import Struct

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, SegmentKind

# Points kept in a window. Each costs memory for the longest window a schedule may have; two hundred draw it well.
_POINTS_IN_WINDOW = 200


class Edges(Struct, frozen=True, gc=False):
    """The lowest and highest temperature allowed at one moment, °C; None: no limit on that side."""

    low_c: float | None = None
    high_c: float | None = None


_OPEN = Edges()


class CorridorMeter:
    """Gives the edges for each believed temperature as it comes, from those before it in the same segment."""

    def __init__(self, schedule: Schedule) -> None:
        self._schedule = schedule
        self._index: int | None = None
        self._limits: tuple[Rate, ...] = ()
        self._falling = False
        self._reach: list[_Extreme] = []
        self._past: _Past | None = None
        self._reached_band = False

    def enter(self, index: int | None) -> None:
        """Go on in another segment, or in none."""
        before = self._limits, self._falling
        self._index = index
        self._past, self._reached_band = None, False
        if index is None:
            self._limits, self._reach = (), []
            return
        segment = self._schedule.segments[index]
        self._limits = self._schedule.limits_in_force(index)
        self._falling = segment.kind is SegmentKind.COOL
        if (self._limits, self._falling) != before:
            # Where the same limits go on, so does what has been climbed under them.
            self._reach = [_Extreme(rate.window_s, falling=self._falling) for rate in self._limits]
        if segment.min_rate is not None:
            self._past = _Past(segment.min_rate)

    def restart(self) -> None:
        """Begin the present segment anew: nothing is reckoned across a time when nobody watched."""
        index = self._index
        self._limits = ()
        self._reach = []
        self.enter(index)

    def feed(self, time_s: float, temp_c: float) -> Edges:
        """Take a believed temperature, °C; gives the edges that hold for it."""
        if self._index is None:
            return _OPEN
        segment = self._schedule.segments[self._index]
        low_c = high_c = None
        for rate, reach in zip(self._limits, self._reach, strict=True):
            extreme_c = reach.feed(time_s, temp_c)
            if self._falling:
                low_c = higher(low_c, extreme_c - rate.climb_c)
            else:
                high_c = lower(high_c, extreme_c + rate.climb_c)
        if self._past is not None:
            low_c = higher(low_c, self._past.feed(time_s, temp_c))
        if segment.kind is SegmentKind.SOAK:
            self._reached_band = self._reached_band or temp_c >= segment.lowest_c
            low_c = segment.lowest_c if self._reached_band else None
            high_c = lower(high_c, segment.highest_c)
        if segment.ceiling_c is not None:
            high_c = lower(high_c, segment.ceiling_c)
        return Edges(low_c, high_c)


class _Extreme:
    """The lowest (or, falling, the highest) temperature of a window that leads up to now."""

    __slots__ = ("_kept", "_noted_s", "_sign", "_spacing_s", "_window_s")

    def __init__(self, window_s: float, *, falling: bool) -> None:
        self._window_s = window_s
        self._spacing_s = window_s / _POINTS_IN_WINDOW
        self._sign = -1.0 if falling else 1.0
        self._kept: deque[tuple[float, float]] = deque()  # lowest first, ages falling
        self._noted_s: float | None = None

    def feed(self, time_s: float, temp_c: float) -> float:
        kept, value = self._kept, self._sign * temp_c
        while kept and kept[0][0] < time_s - self._window_s:
            kept.popleft()
        if self._noted_s is None or time_s - self._noted_s >= self._spacing_s:
            self._noted_s = time_s
            while kept and kept[-1][1] >= value:
                kept.pop()
            kept.append((time_s, value))
        return self._sign * min(value, kept[0][1] if kept else value)


class _Past:
    """Where a least rate wants the temperature to be: a whole climb above where it stood a window ago.

    In the first window of a segment it is as much above where the segment began as the time that has passed asks for.
    """

    __slots__ = ("_kept", "_rate", "_spacing_s")

    def __init__(self, rate: Rate) -> None:
        self._rate = rate
        self._spacing_s = rate.window_s / _POINTS_IN_WINDOW
        self._kept: deque[tuple[float, float]] = deque()

    def feed(self, time_s: float, temp_c: float) -> float:
        kept, window_s = self._kept, self._rate.window_s
        if not kept or time_s - kept[-1][0] >= self._spacing_s:
            kept.append((time_s, temp_c))
        while len(kept) > 1 and kept[1][0] <= time_s - window_s:
            kept.popleft()
        then_s, then_c = kept[0]
        return then_c + self._rate.c_per_s * min(time_s - then_s, window_s)


def lower(one: float | None, other: float) -> float:
    """Give the lower of two edges, °C; None is no edge."""
    return other if one is None else min(one, other)


def higher(one: float | None, other: float) -> float:
    """Give the higher of two edges, °C; None is no edge."""
    return other if one is None else max(one, other)
