"""Keeps how a heat went, segment by segment: when each temperature was first passed. What a later heat learns from.

Knows no limits and guesses nothing. Memory is flat: a course that grows long is thinned to every other point.
"""

import math
from bisect import bisect_left, bisect_right

from rampwarden.core.model import EarlierLeg
from rampwarden.core.schedule import Schedule, SegmentKind

# Readings are taken as means of so many seconds: a flicker is no course.
BUCKET_S = 10.0
_MOST_POINTS = 512
# Enough to draw a cooling within a degree or two between points; a line of the record must stay short.
_KEPT_POINTS = 32
_KEPT = range(_KEPT_POINTS)
# A course bends where it begins and ends, so there the points lie five times as close as evenly.
_ENDS_CLOSER = 0.8


# A segment that ended so near its end went there: the last mean lies a little before it.
_SHORT_SHARE, _SHORT_C = 0.03, 5.0


def end_c(schedule: Schedule, index: int) -> float:
    """Give the temperature at which ramp or cooling `index` is done, °C."""
    if schedule.segments[index].kind is SegmentKind.RAMP:
        return schedule.end_of_ramp_c(index)
    return schedule.cold_c if index + 1 == len(schedule.segments) else schedule.segments[index].to_c or 0.0


class LevelCourse:
    """When each temperature was first passed, in one direction: times s and temperatures °C, both ever further."""

    def __init__(self, *, falls: bool) -> None:
        self._sign = -1.0 if falls else 1.0
        self._levels: list[float] = []
        self._times: list[float] = []

    def feed(self, time_s: float, temp_c: float) -> None:
        """Take a mean; one that leads no further is not kept."""
        level = self._sign * temp_c
        if self._levels and level <= self._levels[-1]:
            return
        self._levels.append(level)
        self._times.append(time_s)
        if len(self._levels) > _MOST_POINTS:
            del self._levels[1:-1:2], self._times[1:-1:2]

    def passed_s(self, temp_c: float) -> float | None:
        """Give when a temperature (°C) was passed first, s; None where the course does not reach."""
        level, levels, times = self._sign * temp_c, self._levels, self._times
        if not levels or not levels[0] <= level <= levels[-1]:
            return None
        place = bisect_left(levels, level)
        if levels[place] == level:
            return times[place]
        share = (level - levels[place - 1]) / (levels[place] - levels[place - 1])
        return times[place - 1] + share * (times[place] - times[place - 1])

    def level_at(self, time_s: float) -> float | None:
        """Give how far it had got at a time (s), °C; None before it began."""
        place = bisect_right(self._times, time_s)
        return None if not place else self._sign * self._levels[place - 1]

    def points(self) -> list[tuple[float, float]]:
        """Give the course as (s, °C), oldest first."""
        return [(time_s, self._sign * level) for time_s, level in zip(self._times, self._levels, strict=True)]

    @property
    def began_s(self) -> float:
        """When its first mean was taken, s; infinitely late before that."""
        return self._times[0] if self._times else math.inf

    @property
    def ends_c(self) -> tuple[float, float] | None:
        """Where it began and how far it got, °C; None before the first mean."""
        return (self._sign * self._levels[0], self._sign * self._levels[-1]) if self._levels else None


class HeatCourse:
    """Follows a heat along its schedule; `ended` are the segments that have, in order, each with its index."""

    def __init__(self, schedule: Schedule) -> None:
        self._schedule = schedule
        self.ended: list[tuple[int, EarlierLeg]] = []
        self.index: int | None = None
        self.began_s = 0.0
        self.course = LevelCourse(falls=False)
        self.last: tuple[float, float] | None = None
        """The latest mean, (s, °C)."""
        self._seen = True
        self._bucket = -1.0
        self._sum_s = self._sum_c = 0.0
        self._count = 0

    def enter(self, index: int | None, time_s: float) -> None:
        """The present segment ends, and segment `index` begins, at `time_s`; None when none does."""
        self._close()
        if self.index is not None and self._seen and self._went_whole(self.index, time_s):
            self.ended.append((self.index, self._leg(self.index, time_s)))
        self.index, self.began_s, self._seen = index, time_s, True
        if index is not None:
            self.course = LevelCourse(falls=self._schedule.segments[index].kind is SegmentKind.COOL)

    def _went_whole(self, index: int, ends_s: float) -> bool:
        """Tell whether a segment came to its own end; one that was skipped tells nothing of how long it takes."""
        segment, ends = self._schedule.segments[index], self.course.ends_c
        lasted_s = ends_s - self.began_s
        if segment.kind is SegmentKind.TRANSFER:
            return lasted_s > 0.0
        if segment.kind is SegmentKind.SOAK:
            return lasted_s >= segment.hold_s > 0.0
        if ends is None or lasted_s <= 0.0:
            return False
        short_c = abs(ends[1] - end_c(self._schedule, index))
        return short_c <= max(_SHORT_SHARE * abs(ends[1] - ends[0]), _SHORT_C)

    def blind(self) -> None:
        """Nobody watched for a while: the present segment's course tells nobody anything."""
        self._seen = False

    def feed(self, time_s: float, temp_c: float) -> bool:
        """Take a believed temperature; tells whether a mean was completed by it."""
        bucket = time_s // BUCKET_S
        closed = bucket != self._bucket and self._close()
        self._bucket = bucket
        self._sum_s += time_s
        self._sum_c += temp_c
        self._count += 1
        return closed

    def _close(self) -> bool:
        if not self._count:
            return False
        self.last = (self._sum_s / self._count, self._sum_c / self._count)
        self._sum_s = self._sum_c = 0.0
        self._count = 0
        if self.index is not None:
            self.course.feed(*self.last)
        return True

    def _leg(self, index: int, ends_s: float) -> EarlierLeg:
        segment = self._schedule.segments[index]
        points = self.course.points()
        if len(points) > _KEPT_POINTS:
            points = [points[round((len(points) - 1) * _kept_at(place / (_KEPT_POINTS - 1)))] for place in _KEPT]
        return EarlierLeg(
            segment=segment.kind.value,
            lasted_s=round(ends_s - self.began_s, 1),
            to_c=segment.target_c,
            hold_s=segment.hold_s,
            limit_c_per_s=self._schedule.fastest_c_per_s(index),
            course=tuple((round(time_s - self.began_s, 1), round(temp_c, 1)) for time_s, temp_c in points),
        )


def _kept_at(share: float) -> float:
    """Give where in a course a kept point lies, 0 to 1, from where it stands among those kept."""
    return share - _ENDS_CLOSER * math.sin(2.0 * math.pi * share) / (2.0 * math.pi)
