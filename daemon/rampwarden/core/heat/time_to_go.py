"""How long until the next segment, and until the end of the heat, with how sure that is.

Theory of operation. Believed temperatures are taken as means of ten seconds (`HeatCourse`); a segment is guessed by
what is known best of it: a soak by its clock, a cooling by the furnace's own law, a climb by the pace held so far and
the share of a limit that people hold. Where earlier heats of the same furnace and pot are known (`remember`), their
courses are the law, scaled by how this heat has kept to them. What cannot be guessed is None, and nothing is guessed
in the first minute of a segment: not a fantasy. To ask changes nothing.
"""

import math
from collections import deque
from dataclasses import dataclass

from rampwarden.core.heat.climb_pace import climb_left_s, planned_climb_s, usual_share
from rampwarden.core.heat.cooling_law import cooling_s, unseen_cooling_s
from rampwarden.core.heat.earlier_pace import EarlierPace
from rampwarden.core.heat.guess import Guess, relative, total
from rampwarden.core.heat.heat_course import BUCKET_S, HeatCourse, end_c
from rampwarden.core.heat.stalling import StallWatch
from rampwarden.core.model import EarlierHeat, EarlierLeg
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# In the first minute of anything nothing is said.
_SETTLES_S = 60.0
# Nor from a temperature that is older.
_OLDEST_S = 60.0
# A transfer of which nothing is known: some eight minutes, wide open. Common practice, no source.
_USUAL_TRANSFER_S, _TRANSFER_SPREAD = 480.0, 0.45
# Who carries a pot longer than usual is about to arrive: so much of the usual time is still left.
_LATE_SHARE = 0.2
# A pot arrives with about this, if the schedule does not say. Common practice, no source.
_ARRIVES_WITH_C = 100.0
_ROOM_C = 20.0
# How sure a soak's clock is: it stops outside the band.
_SOAK_SPREAD = 0.02
# Above its band a soak is back in some minutes; after this share of its hold it stays there. Own arithmetic.
_FALLS_BACK_S, _RECENT_MEANS = 600.0, 12
_SETTLES_INTO_BAND = 0.4
# A soak that would climb out of its band within five minutes is likely to stand above it for some; own arithmetic, from
# simulated furnaces.
_LEAVES_WITHIN_S, _LEAVES_FROM, _LEAVES_TO, _LEFT_S, _LEFT_LATE_S = 300.0, 0.6, 2.0, 200.0, 400.0
# A day's pace is kept for the climbs to come in so far as this.
_DAY_KEPT = 0.6


@dataclass(frozen=True, slots=True)
class Rest:
    """How long each later segment takes as far as it can be guessed, and all of them; None where some cannot be.

    `later_s` are the best guesses, s.
    """

    later: tuple[Guess, ...] = ()
    later_s: tuple[float, ...] = ()
    whole: Guess | None = None


NO_REST = Rest()


@dataclass(frozen=True, slots=True)
class Outlook:
    """How long still: until the next segment, each later one, and the end; None where it cannot be guessed.

    `settling` says that it is too early to tell. `stops_near_c` is where the climb will stop short of its end, °C.
    """

    to_next: Guess | None = None
    rest: Rest = NO_REST
    to_end: Guess | None = None
    settling: bool = False
    stops_near_c: float | None = None


class TimeToGo:
    """Follows one heat and guesses how long it still takes."""

    def __init__(self, schedule: Schedule) -> None:
        self._schedule = schedule
        self._course = HeatCourse(schedule)
        self._earlier = EarlierPace(schedule)
        self._stall = StallWatch()
        self._room_c: float | None = None
        self._means: deque[tuple[float, float]] = deque(maxlen=_RECENT_MEANS)
        self._last_s = -math.inf
        self._settles_s = 0.0
        self._number = 0
        self._kept: tuple[object, Guess | None] | None = None
        # Until a segment ends or more is known, whoever asks is told the same of the segments to come.
        self._rest: Rest | None = None

    @property
    def legs(self) -> list[EarlierLeg]:
        """The segments that have ended, as a later heat learns from them."""
        return [leg for _, leg in self._course.ended]

    @property
    def earlier_heats(self) -> tuple[str, ...]:
        """The ids of the earlier heats that are known."""
        return self._earlier.heats

    def remember(self, heat: EarlierHeat) -> None:
        """Learn from an earlier heat of the same furnace and pot."""
        self._earlier.remember(heat)
        self._rest = None
        self._number += 1

    def enter(self, index: int | None, time_s: float) -> None:
        """Segment `index` begins at `time_s` (s); None when the heat leads nowhere any more."""
        self._course.enter(index, time_s)
        self._rest = None
        self._stall.restart()
        self._settles_s = time_s + _SETTLES_S
        self._number += 1

    def resume(self, time_s: float) -> None:
        """Go on after a blind time: what was seen before it tells no pace."""
        self._course.blind()
        self._stall.restart()
        self._settles_s = time_s + _SETTLES_S
        self._number += 1

    def feed(self, time_s: float, temp_c: float, junction_c: float | None) -> None:
        """Take a believed temperature (s, °C) and that of the reference junction, which is about the room's."""
        self._last_s = time_s
        if junction_c is not None and (self._room_c is None or junction_c < self._room_c):
            # A board warms itself and stands beside a furnace: its coldest junction is the nearest to the room.
            self._room_c, self._rest = junction_c, None
        if not self._course.feed(time_s, temp_c):
            return
        self._number += 1
        index, last = self._course.index, self._course.last
        if last is not None:
            self._means.append(last)
        if index is not None and last is not None and self._schedule.segments[index].kind is SegmentKind.RAMP:
            self._stall.feed(*last, end_c(self._schedule, index), self._limit(index))

    def look(self, now_s: float, soaked_s: float, *, in_band: bool) -> Outlook:
        """Give the outlook at `now_s` (s), with so much of the present soak or closed time done."""
        index = self._course.index
        if index is None:
            return Outlook()
        is_soaking = in_band and self._schedule.segments[index].kind is SegmentKind.SOAK
        if not is_soaking:
            if now_s < self._settles_s or self._course.last is None:
                return Outlook(settling=True)
            if now_s - self._last_s > _OLDEST_S and self._schedule.segments[index].kind is not SegmentKind.TRANSFER:
                return Outlook()
        if self._rest is None:
            self._rest = self._rest_after(index)
        rest = self._rest
        if self._stall.stops_near_c is not None:
            return Outlook(rest=rest, stops_near_c=self._stall.stops_near_c)
        asked = (self._number, soaked_s, in_band, now_s // 10.0)
        if self._kept is None or self._kept[0] != asked:
            to_next = self._to_next(index, now_s, soaked_s, in_band)
            self._kept = (asked, to_next)
        to_next = self._kept[1]
        to_end = None if to_next is None or rest.whole is None else total((to_next, rest.whole))
        return Outlook(to_next, rest, to_end)

    def plan(self, from_c: float) -> Guess | None:
        """Give how long the whole schedule takes from a furnace at `from_c` (°C); None where it does not tell."""
        first = self._whole(0, from_c)
        later = self._later(0)
        return None if first is None or len(later) + 1 < len(self._schedule.segments) else total((first, *later))

    def _to_next(self, index: int, now_s: float, soaked_s: float, in_band: bool) -> Guess | None:
        segment = self._schedule.segments[index]
        if segment.kind is SegmentKind.TRANSFER:
            return self._carrying(index, now_s)
        if segment.kind is SegmentKind.SOAK:
            return self._soaking(index, now_s, soaked_s, in_band)
        last = self._course.last
        if last is None:
            return None
        # What was read some seconds ago has gone on since.
        gone_s = max(now_s - last[0], 0.0)
        to_c = end_c(self._schedule, index)
        guess = self._earlier.left(index, self._course.course, last, to_c)
        if segment.kind is SegmentKind.RAMP:
            if guess is None:
                limit, share = self._limit(index), self._share(index)
                following = self._schedule.segments[index + 1 : index + 2]
                to_soak = bool(following) and following[0].kind is SegmentKind.SOAK
                guess = climb_left_s(self._course.course, last, to_c, limit, share, to_soak=to_soak)
            return None if guess is None else guess.after(gone_s)
        if guess is None:
            points = self._course.course.points()
            guess = cooling_s(points, self._room(), to_c, self._limit(index))
            if guess is None:
                guess = self._unseen_cooling(index, last[1])
        if guess is None:
            return None
        closed_s = segment.hold_s - soaked_s
        guess = guess.after(gone_s)
        return guess if guess.best_s >= closed_s else Guess(closed_s, _SOAK_SPREAD * closed_s)

    def _soaking(self, index: int, now_s: float, soaked_s: float, in_band: bool) -> Guess | None:
        segment, last = self._schedule.segments[index], self._course.last
        hold_s = max(segment.hold_s - soaked_s, 0.0)
        hold = relative(hold_s, 0.0, _SOAK_SPREAD * segment.hold_s * min(hold_s / 300.0, 1.0) + 3.0)
        below = last is not None and last[1] < segment.lowest_c
        if not in_band and below and last is not None:
            limit, share = self._limit(index), self._share(index)
            approach = climb_left_s(self._course.course, last, segment.lowest_c, limit, share, to_soak=True)
            return None if approach is None else total((approach, hold))
        whole, gone_s = self._earlier.beside_band_s(index), now_s - self._course.began_s - soaked_s
        if not in_band:
            # Above its band it has only to fall; how fast, no climb limit tells.
            back_s = self._back_s(segment)
            if whole is not None:
                back_s = 0.5 * (back_s + max(whole.best_s - gone_s, 0.0))
            return total((hold, Guess(back_s, 0.7 * back_s + 60.0)))
        if whole is not None and soaked_s < _SETTLES_INTO_BAND * segment.hold_s:
            # What is usually lost beside the band is lost in the beginning.
            return total((hold, whole.after(gone_s)))
        return hold if whole is not None else total((hold, self._may_leave(segment)))

    def _may_leave(self, segment: Segment) -> Guess:
        """Give how long a soak in its band may yet stand above it: by how soon its present climb would lead there."""
        if not self._means:
            # Joined in its band a moment ago: no climb is known yet.
            return Guess(0.0, 0.0)
        oldest, latest = self._means[0], self._means[-1]
        climbs = (latest[1] - oldest[1]) / max(latest[0] - oldest[0], BUCKET_S)
        near = climbs * _LEAVES_WITHIN_S / max(segment.highest_c - latest[1], 1.0)
        likely = min(max((near - _LEAVES_FROM) / (_LEAVES_TO - _LEAVES_FROM), 0.0), 1.0)
        return Guess(likely * _LEFT_S, 0.8 * likely * _LEFT_S, likely * _LEFT_LATE_S)

    def _back_s(self, segment: Segment) -> float:
        """Give how long until a soak that is above its band is back in it, s."""
        if not self._means:
            return _FALLS_BACK_S
        oldest, latest = self._means[0], self._means[-1]
        falls = (oldest[1] - latest[1]) / (latest[0] - oldest[0]) if latest[0] > oldest[0] else 0.0
        beyond_c = max(latest[1] - segment.highest_c, 0.0)
        return min(beyond_c / falls, _FALLS_BACK_S) if falls > 0.0 else _FALLS_BACK_S

    def _carrying(self, index: int, now_s: float) -> Guess:
        whole = self._earlier.whole(index, None) or self._unseen_transfer(self._schedule.segments[index])
        left_s = max(whole.best_s - (now_s - self._course.began_s), _LATE_SHARE * whole.best_s)
        return Guess(left_s, whole.sd_s)

    def _rest_after(self, index: int) -> Rest:
        """Put together what comes after segment `index`."""
        later = self._later(index)
        is_whole = len(later) == len(self._schedule.segments) - index - 1
        return Rest(later, tuple(each.best_s for each in later), total(later) if is_whole else None)

    def _later(self, index: int) -> tuple[Guess, ...]:
        """Guess each segment after `index`, as far as they can be."""
        segments, later = self._schedule.segments, []
        from_c = segments[index].target_c
        for place in range(index + 1, len(segments)):
            guess = self._whole(place, from_c)
            if guess is None:
                break
            later.append(guess)
            segment = segments[place]
            from_c = segment.target_c
            if segment.kind is SegmentKind.TRANSFER:
                from_c = _ARRIVES_WITH_C if segment.arrive_above_c is None else segment.arrive_above_c
        return tuple(later)

    def _whole(self, index: int, from_c: float | None) -> Guess | None:
        segment = self._schedule.segments[index]
        known = self._earlier.whole(index, from_c)
        if known is not None:
            is_climb = segment.kind is SegmentKind.RAMP
            return known.scaled(math.exp(_DAY_KEPT * self._day(index))) if is_climb else known
        if segment.kind is SegmentKind.TRANSFER:
            return self._unseen_transfer(segment)
        if from_c is None:
            from_c = _ARRIVES_WITH_C
        if segment.kind is SegmentKind.COOL:
            guess = self._unseen_cooling(index, from_c)
            closed = Guess(segment.hold_s, _SOAK_SPREAD * segment.hold_s)
            return guess if guess is None or guess.best_s >= segment.hold_s else closed
        limit, share = self._limit(index), self._share(index)
        if segment.kind is SegmentKind.RAMP:
            return planned_climb_s(self._schedule.end_of_ramp_c(index) - from_c, limit, share)
        climb_c = segment.lowest_c - from_c
        # A soak just above the ramp before it begins in its band.
        climb = Guess(0.0, 0.0) if climb_c <= 0.0 else planned_climb_s(climb_c, limit, share)
        return None if climb is None else total((climb, relative(segment.hold_s, _SOAK_SPREAD, 30.0)))

    def _unseen_cooling(self, index: int, from_c: float) -> Guess | None:
        return unseen_cooling_s(
            from_c, self._room(), end_c(self._schedule, index), self._limit(index), math.exp(usual_share([])[0])
        )

    def _unseen_transfer(self, segment: Segment) -> Guess:
        most_s = math.inf if segment.within_s is None else segment.within_s
        return relative(min(_USUAL_TRANSFER_S, most_s), _TRANSFER_SPREAD)

    def _share(self, index: int) -> tuple[float, float]:
        """Give the share of its limit that segment `index` is climbed at: as this heat's last climb of its side."""
        shares = self._earlier.shares()
        climbs = self._climbs_before(index)
        if climbs:
            leg = climbs[-1][1]
            if leg.limit_c_per_s and len(leg.course) > 1 and leg.course[-1][1] > leg.course[0][1]:
                pace = (leg.course[-1][1] - leg.course[0][1]) / leg.lasted_s
                shares.extend([math.log(min(max(pace / leg.limit_c_per_s, 0.1), 1.0))] * 2)
        return usual_share(shares)

    def _day(self, index: int) -> float:
        """Give the logarithm of how much slower today's last climb of this side went than in earlier heats."""
        climbs = self._climbs_before(index)
        return self._earlier.day(climbs[-1][0], climbs[-1][1].lasted_s) if climbs else 0.0

    def _climbs_before(self, index: int) -> list[tuple[int, EarlierLeg]]:
        """Give the climbs that ended before segment `index`, on its side of a transfer: oven or furnace."""
        segments = self._schedule.segments
        carried = [place for place in range(index) if segments[place].kind is SegmentKind.TRANSFER]
        first = carried[-1] if carried else 0
        kind = SegmentKind.RAMP.value
        return [(place, leg) for place, leg in self._course.ended if first <= place < index and leg.segment == kind]

    def _room(self) -> float:
        return _ROOM_C if self._room_c is None else self._room_c

    def _limit(self, index: int) -> float | None:
        return self._schedule.fastest_c_per_s(index)


def planned_s(schedule: Schedule, from_c: float) -> float | None:
    """Give how long a schedule takes as people keep it, s, from a furnace at `from_c` (°C); None if unknown."""
    planned = TimeToGo(schedule).plan(from_c)
    return None if planned is None else planned.best_s
