"""What earlier heats of the same furnace and pot say of a segment: how long it takes, and what of it is left.

A course of an earlier heat is a better law than any formula: it holds what this furnace, this pot and this person do.
It is scaled by how this heat has kept to it so far. Spreads that count while there are few heats are own arithmetic.
"""

import math
from collections import deque
from itertools import pairwise

from rampwarden.core.heat.cooling_law import cooling_s
from rampwarden.core.heat.guess import Guess, relative, spread_of
from rampwarden.core.heat.heat_course import LevelCourse
from rampwarden.core.model import EarlierHeat, EarlierLeg
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# People and furnaces change over the years: the latest heats are enough.
_MOST_HEATS = 8
_SAME_C, _SAME_SHARE = 5.0, 0.05
_USUAL_SPREAD = {SegmentKind.RAMP: 0.07, SegmentKind.COOL: 0.06, SegmentKind.TRANSFER: 0.15, SegmentKind.SOAK: 0.03}
_USUAL_BESIDE_S = 60.0
# After so long a piece of its own course a heat's own pace counts for half.
_PACE_COUNTS_AFTER_S = 900.0
_SHARE_SPREAD = 0.12
# The beginning of a cooling is a matter of when the gas was turned off.
_FALLING_SHARE = 0.97
_ROOM_C = 20.0


class EarlierPace:
    """Holds the earlier heats that were told, the latest last, for the segments of one schedule."""

    def __init__(self, schedule: Schedule) -> None:
        self._schedule = schedule
        self._heats: deque[EarlierHeat] = deque(maxlen=_MOST_HEATS)
        self._alike: dict[int, list[tuple[EarlierLeg, LevelCourse]]] = {}

    @property
    def heats(self) -> tuple[str, ...]:
        """The ids of the heats that are known."""
        return tuple(each.heat for each in self._heats)

    def remember(self, heat: EarlierHeat) -> None:
        """Take an earlier heat; legs that cannot be are left out, for a record may hold anything."""
        legs = tuple(leg for leg in heat.legs if _is_possible(leg))
        self._heats.append(EarlierHeat(heat.time_s, heat.heat, legs))
        self._alike.clear()

    def whole(self, index: int, from_c: float | None) -> Guess | None:
        """Give how long segment `index` takes as a whole; None where no earlier heat had its like."""
        segment = self._schedule.segments[index]
        logs = []
        for leg, course in self._legs(index):
            lasted_s = leg.lasted_s
            ends = course.ends_c
            if segment.kind is SegmentKind.COOL and ends is not None and segment.to_c is not None:
                lasted_s = _until(leg, course, segment.to_c)
            elif segment.kind is SegmentKind.RAMP and ends is not None and from_c is not None:
                reaches_c, end_c = abs(ends[1] - ends[0]), self._schedule.end_of_ramp_c(index)
                # A ramp that begins elsewhere than it did is so much longer or shorter.
                if reaches_c > 0.0 and abs(from_c - ends[0]) > 0.1 * reaches_c:
                    lasted_s *= max(end_c - from_c, 0.0) / reaches_c
            if lasted_s > 0.0:
                logs.append(math.log(lasted_s))
        return _guess(logs, segment.kind)

    def beside_band_s(self, index: int) -> Guess | None:
        """Give how long soak `index` stands outside its band as a whole; None where no earlier heat had its like."""
        extra = [max(leg.lasted_s - leg.hold_s, 0.0) for leg, _ in self._legs(index)]
        if not extra:
            return None
        mean_s = sum(extra) / len(extra)
        squares = sum((each - mean_s) ** 2 for each in extra)
        return Guess(mean_s, math.sqrt((2.0 * _USUAL_BESIDE_S**2 + squares) / (len(extra) + 1)))

    def left(self, index: int, course: LevelCourse, now: tuple[float, float], end_c: float) -> Guess | None:
        """Give what is left of the present ramp or cooling from `now` (s, °C): earlier courses, at this heat's pace."""
        segment = self._schedule.segments[index]
        falls = segment.kind is SegmentKind.COOL
        logs: list[float] = []
        counts = 0.0
        for leg, earlier in self._legs(index):
            ends = earlier.ends_c
            if ends is None:
                continue
            until_s = _until(leg, earlier, end_c) if falls else leg.lasted_s
            passed_s = earlier.passed_s(now[1])
            if passed_s is None:
                if (now[1] > ends[0]) is falls:
                    # Before the course began: as if it stood there from its beginning.
                    passed_s = 0.0
                else:
                    continue
            left_s = until_s - passed_s
            if left_s <= 0.0:
                continue
            share, counts = _own_pace(course, earlier, now, falls)
            logs.append(math.log(left_s) + share)
        guess = _guess(logs, segment.kind)
        # What has been kept to for a while leaves less to chance.
        return None if guess is None else Guess(guess.best_s, math.hypot(guess.sd_s * (1.0 - 0.5 * counts), 5.0))

    def day(self, index: int, lasted_s: float) -> float:
        """Give the logarithm of how much slower than usual segment `index` went today; 0 where nothing is known."""
        known = self.whole(index, None)
        return 0.0 if known is None or lasted_s <= 0.0 else math.log(lasted_s / known.best_s)

    def shares(self) -> list[float]:
        """Give the logarithms of the shares of their limits that ramps were climbed at, the latest heat's last."""
        logs = []
        for heat in self._heats:
            for leg in heat.legs:
                if leg.segment == SegmentKind.RAMP.value and leg.limit_c_per_s and len(leg.course) > 1:
                    pace = (leg.course[-1][1] - leg.course[0][1]) / leg.lasted_s
                    if pace > 0.0:
                        logs.append(math.log(min(max(pace / leg.limit_c_per_s, 0.1), 1.0)))
        return logs

    def _legs(self, index: int) -> list[tuple[EarlierLeg, LevelCourse]]:
        if index not in self._alike:
            segment = self._schedule.segments[index]
            limit = self._schedule.fastest_c_per_s(index)
            taken = []
            for heat in self._heats:
                alike = [leg for leg in heat.legs if _is_like(leg, segment, limit)]
                if alike:
                    taken.append((alike[-1], _course_of(alike[-1])))
            self._alike[index] = taken
        return self._alike[index]


def _guess(logs: list[float], kind: SegmentKind) -> Guess | None:
    if not logs:
        return None
    mean, spread = spread_of(logs, _USUAL_SPREAD[kind])
    return relative(math.exp(mean), spread * math.sqrt(1.0 + 1.0 / len(logs)))


def _own_pace(course: LevelCourse, earlier: LevelCourse, now: tuple[float, float], falls: bool) -> tuple[float, float]:
    """Give the logarithm of how much slower this heat goes than the earlier one did, and how much that counts."""
    own, theirs = course.ends_c, earlier.ends_c
    if own is None or theirs is None:
        return 0.0, 0.0
    from_c = min(own[0], theirs[0]) * _FALLING_SHARE if falls else max(own[0], theirs[0])
    own_s, since_s = course.passed_s(from_c), earlier.passed_s(from_c)
    now_s = earlier.passed_s(now[1])
    if own_s is None or since_s is None or now_s is None or now_s <= since_s or now[0] <= own_s:
        return 0.0, 0.0
    gone_s = now_s - since_s
    counts = gone_s / (gone_s + _PACE_COUNTS_AFTER_S)
    return counts * math.log((now[0] - own_s) / gone_s), counts


def _until(leg: EarlierLeg, course: LevelCourse, to_c: float) -> float:
    """Give when an earlier cooling was at `to_c`, s, carried on by its own law where it was not watched so far."""
    ends = course.ends_c
    if ends is None:
        return leg.lasted_s
    passed_s = course.passed_s(to_c)
    if passed_s is not None:
        return passed_s
    if leg.to_c is not None and abs(leg.to_c - to_c) < _SAME_C:
        return leg.lasted_s
    further = cooling_s(course.points(), _ROOM_C, to_c, leg.limit_c_per_s)
    return leg.lasted_s if further is None else course.points()[-1][0] + further.best_s


def _is_like(leg: EarlierLeg, segment: Segment, limit: float | None) -> bool:
    if leg.segment != segment.kind.value:
        return False
    if segment.kind in (SegmentKind.TRANSFER, SegmentKind.COOL):
        return True
    if leg.to_c is None or segment.target_c is None or abs(leg.to_c - segment.target_c) > _SAME_C:
        return False
    if segment.kind is SegmentKind.SOAK:
        return abs(leg.hold_s - segment.hold_s) <= 1.0
    if leg.limit_c_per_s is None or limit is None:
        return leg.limit_c_per_s is limit
    return abs(leg.limit_c_per_s / limit - 1.0) <= _SAME_SHARE


def _is_possible(leg: EarlierLeg) -> bool:
    times = [time_s for time_s, _ in leg.course]
    forward = all(earlier < later for earlier, later in pairwise(times))
    numbers = (leg.lasted_s, leg.hold_s, *(leg.to_c, leg.limit_c_per_s), *times, *(temp_c for _, temp_c in leg.course))
    finite = all(number is None or abs(number) < 1e7 for number in numbers)
    limited = leg.limit_c_per_s is None or leg.limit_c_per_s > 0.0
    return finite and forward and limited and leg.lasted_s > 0.0 and not any(time_s < 0.0 for time_s in times)


def _course_of(leg: EarlierLeg) -> LevelCourse:
    course = LevelCourse(falls=leg.segment == SegmentKind.COOL.value)
    for time_s, temp_c in leg.course:
        course.feed(time_s, temp_c)
    return course
