"""Where the schedule lets the temperature be: the corridor, as it was, as it is, and as it leads on.

The edges are the alarms' own rules drawn as temperatures. A limit of 25 °C in 15 minutes puts the upper edge 25 °C
above the lowest of the last 15 minutes; a least rate puts the lower edge so far above where the temperature stood a
window ago; a soak has its band, a ceiling is an edge. Margins for noise and delays are left out, so an alarm comes a
little after its edge is crossed. Ahead, the way is the outlook's guess, and the edges go with it.

Knows one heat's believed temperatures and its schedule; draws nothing and raises no alarm.
"""

from collections import deque

from msgspec import Struct

from rampwarden.core.heat.time_to_go import Leg
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# Points kept in a window. Each costs memory for the longest window a schedule may have; two hundred draw it well.
_POINTS_IN_WINDOW = 200
# Straight pieces a segment ahead is drawn with: its edges bend once or twice.
_PIECES_OF_LEG = 8


class Edges(Struct, frozen=True, gc=False):
    """The lowest and highest temperature allowed at one moment, °C; None: no limit on that side."""

    low_c: float | None = None
    high_c: float | None = None


class WayPoint(Struct, frozen=True, gc=False, array_like=True):
    """A moment on the way ahead: heat time (s), where the temperature is expected, and the edges there, all °C."""

    time_s: float
    way_c: float
    low_c: float | None
    high_c: float | None


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
                low_c = _higher(low_c, extreme_c - rate.climb_c)
            else:
                high_c = _lower(high_c, extreme_c + rate.climb_c)
        if self._past is not None:
            low_c = _higher(low_c, self._past.feed(time_s, temp_c))
        if segment.kind is SegmentKind.SOAK:
            self._reached_band = self._reached_band or temp_c >= segment.lowest_c
            low_c = segment.lowest_c if self._reached_band else None
            high_c = _lower(high_c, segment.highest_c)
        if segment.ceiling_c is not None:
            high_c = _lower(high_c, segment.ceiling_c)
        return Edges(low_c, high_c)


def way_ahead(schedule: Schedule, legs: list[Leg], now_s: float, edges: Edges) -> list[WayPoint]:
    """Draw the legs of the outlook with their edges, from heat time `now_s`; `edges` are those of the present."""
    points: list[WayPoint] = []
    for leg in legs:
        if leg.from_c is None or leg.to_c is None:
            break
        from_c, length_s = leg.from_c, leg.ends_s - leg.begins_s
        pieces = _PIECES_OF_LEG if length_s > 0 else 1
        for piece in range(pieces + 1):
            gone_s = length_s * piece / pieces
            way_c = _way_c(schedule.segments[leg.index], leg, gone_s)
            now = edges if leg is legs[0] else _OPEN
            ahead = _edges_ahead(schedule, leg, from_c, gone_s, way_c, now)
            time_s = round(now_s + leg.begins_s + gone_s, 1)
            points.append(WayPoint(time_s, round(way_c, 1), _rounded(ahead.low_c), _rounded(ahead.high_c)))
    return points


def _way_c(segment: Segment, leg: Leg, gone_s: float) -> float:
    """Where the temperature is expected `gone_s` into a leg, °C."""
    from_c, to_c, length_s = leg.from_c or 0.0, leg.to_c or 0.0, leg.ends_s - leg.begins_s
    share = gone_s / length_s if length_s > 0 else 1.0
    if segment.kind is not SegmentKind.SOAK:
        return from_c + (to_c - from_c) * share
    climbing_s = max(0.0, length_s - segment.hold_s)
    if from_c < segment.lowest_c and gone_s < climbing_s:
        return from_c + (segment.lowest_c - from_c) * gone_s / climbing_s
    return to_c


def _edges_ahead(schedule: Schedule, leg: Leg, from_c: float, gone_s: float, way_c: float, now: Edges) -> Edges:
    """The edges `gone_s` into a leg: what may be climbed from where it begins, within what the segment ends at."""
    segment = schedule.segments[leg.index]
    low_c = high_c = None
    sign = -1.0 if segment.kind is SegmentKind.COOL else 1.0
    for rate in schedule.limits_in_force(leg.index):
        present_c = now.low_c if sign < 0 else now.high_c
        edge_c = _reached_c(rate, from_c, gone_s, present_c, sign)
        if sign < 0:
            low_c = _higher(low_c, max(edge_c, min(way_c, segment.to_c or edge_c)))
        else:
            high_c = _lower(high_c, edge_c)
    if segment.min_rate is not None:
        slowest_c = _reached_c(segment.min_rate, from_c, gone_s, now.low_c if now.low_c is not None else from_c, sign)
        low_c = min(slowest_c, max(way_c, segment.to_c or slowest_c))
    if segment.kind is SegmentKind.RAMP and high_c is not None:
        high_c = min(high_c, max(way_c, segment.to_c or high_c))
    if segment.kind is SegmentKind.SOAK:
        low_c = segment.lowest_c if way_c >= segment.lowest_c else None
        high_c = _lower(high_c, segment.highest_c)
    if segment.ceiling_c is not None:
        high_c = _lower(high_c, segment.ceiling_c)
    return Edges(low_c, high_c)


def _reached_c(rate: Rate, from_c: float, gone_s: float, present_c: float | None, sign: float) -> float:
    """The edge of one limit ahead: from the present one to a whole climb a window later, then as fast as is allowed."""
    whole_c = from_c + sign * rate.climb_c
    if gone_s >= rate.window_s:
        return from_c + sign * rate.c_per_s * gone_s
    return whole_c if present_c is None else present_c + (whole_c - present_c) * gone_s / rate.window_s


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


def _lower(one: float | None, other: float) -> float:
    return other if one is None else min(one, other)


def _higher(one: float | None, other: float) -> float:
    return other if one is None else max(one, other)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
