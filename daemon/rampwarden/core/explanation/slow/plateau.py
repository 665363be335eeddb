"""The reading stands still near a metal's point in the middle of a steady climb or cooling: it melts, or it freezes.

The corner is sharp and the level kept for minutes, while whoever turns a flame down, or closes in on a target, gets a
course that bends over minutes or slopes on. While metal melts the pot around it stands hotter, by as much as two
minutes of the climb (own arithmetic: heat flows in at the pace of the climb); so the level may lie above the point.
"""

from rampwarden.core.explanation.slow.half_minutes import LENGTH_S, HalfMinutes, line_c_per_s
from rampwarden.core.explanation.slow_rules import LEAST_LOG_ODDS, Candidate, Glance
from rampwarden.core.explanation.statements import Cause, Context, Figures
from rampwarden.core.model import FREEZING_POINTS_C
from rampwarden.core.schedule import SegmentKind

# What is a plateau. Common practice, no source, but where said.
_NEAR_C = 12.0
"""°C. Class 2 wire and some drift."""
_ABOVE_S = 130.0
"""s of the climb by which a melting metal's pot may stand above its point."""
_STANDS = 4
"""Half minutes: two minutes."""
_STEADY = 5
_KEPT = 24
"""Half minutes that are looked at."""
_OF_FASTEST = 0.5
"""Share of the fastest climb of the last ten minutes that must have been left: what died away stands at last too."""
_CORNERS = (1, 2, 3)
"""Half minutes that the corner may take."""
_LEAST_C_PER_S = 3.0 / 60.0
_FLAT = 0.2
"""Share of the climb that may be left."""
_FALLS = -0.08
"""Share of it by which the level may fall: what turns back is no plateau."""
_KEEPS = 0.8
"""Share of the first half of the climb's slope that its second half must have: what slows beforehand is a hand."""
_SPREAD_C = 1.2
_DEVIATIONS = 4.0
_TURNED_OFF_S = 600.0
"""s after a cooling has begun in which people turn off and a pot runs on."""
_BEFORE = 10
_STOOD = 0.3
"""Share of the climb that must have been left at any time in the five minutes before."""
_MOST_ERROR_C = 1.5
"""°C. What half minutes scatter by more is no flame's flicker but the course itself: a saw has no level."""
_WITHIN_C = 10.0
"""°C within which the buckets of a level lie besides; and a rough flame's."""
_GOES_ON = 0.5
"""Share of the climb with which it goes on."""
_CLOSING_IN_S = 60.0
_LEAVES_C = 25.0
"""°C below the target within which a climb ends."""


class PlateauRule:
    """Judges each half minute of a climb or a cooling."""

    def __init__(self, course: HalfMinutes) -> None:
        self._course = course
        self.restart()

    def restart(self) -> None:
        """Forget what was seen of the course."""
        self._before_c_per_s = 0.0
        self._told: Candidate | None = None

    def feed(self, glance: Glance) -> Candidate | None:
        """Judge one more half minute."""
        context = glance.context
        if context is None or context.kind not in (SegmentKind.RAMP, SegmentKind.COOL):
            self._told = None
        elif self._told is not None:
            self._told = self._go_on(self._told, context)
        else:
            self._told = self._look(glance, context)
        return self._told

    def _look(self, glance: Glance, context: Context) -> Candidate | None:
        temps_c = self._course.temps_c
        sign = -1.0 if context.kind is SegmentKind.COOL else 1.0
        error_c = min(self._course.scatter_c(), _MOST_ERROR_C)
        fastest = self._course.steepest_c_per_s(_KEPT, sign)
        least = max(_LEAST_C_PER_S, _OF_FASTEST * fastest, 12.0 * error_c / (3.0 * LENGTH_S))
        for corner in _CORNERS:
            if len(temps_c) < _STANDS + corner + _STEADY - 1:
                return None
            climb = [
                sign * temp_c
                for temp_c in temps_c[-_STANDS - corner - _STEADY + 1 : len(temps_c) - _STANDS - corner + 1]
            ]
            before = line_c_per_s(climb)
            if before < least:
                continue
            first, second = line_c_per_s(climb[:3]), line_c_per_s(climb[2:])
            steady = second >= _KEEPS * first - _DEVIATIONS * error_c / (2.0 * LENGTH_S) and second > 0.6 * before
            if (
                steady
                and self._stands(before, sign, error_c, glance)
                and self._is_its_own(glance, context, corner, before)
            ):
                return self._candidate(before, sign)
        return None

    def _stands(self, before: float, sign: float, error_c: float, glance: Glance) -> bool:
        level = [sign * temp_c for temp_c in self._course.temps_c[-_STANDS:]]
        now = line_c_per_s(level)
        error = _DEVIATIONS * 0.5 * error_c / (3.0 * LENGTH_S)
        if not _FALLS * before - error <= now <= _FLAT * before:
            return False
        if level[-1] - level[-3] < (2.0 * _FALLS * before - error) * 2.0 * LENGTH_S:
            return False
        most_c = _FLAT * before * 3.0 * LENGTH_S + _SPREAD_C + _DEVIATIONS * error_c
        if max(level) - min(level) > most_c:
            return False
        since_s = self._course.last_s - (_STANDS - 0.5) * LENGTH_S
        buckets_c = [slot.temp_c for slot in glance.recent if slot.time_s >= since_s]
        return max(buckets_c) - min(buckets_c) <= most_c + _WITHIN_C

    def _is_its_own(self, glance: Glance, context: Context, corner: int, before: float) -> bool:
        """Whether nothing else explains it: an event, a mark, a target that is being closed in on."""
        if glance.undecided or glance.out or glance.marked_s < (_STANDS + corner) * LENGTH_S:
            return False
        if context.kind is SegmentKind.COOL:
            return glance.entered_s > _TURNED_OFF_S
        # A burner that cycles has stood still before.
        temps_c, begins = self._course.temps_c, len(self._course.temps_c) - _STANDS - corner
        earlier = [temps_c[number] - temps_c[number - 2] for number in range(max(begins - _BEFORE, 2), begins + 1)]
        if min(earlier) < _STOOD * before * 2.0 * LENGTH_S - 2.0 * self._course.scatter_c():
            return False
        left_c = (context.target_c or 0.0) - self._course.temps_c[-_STANDS]
        return left_c > max(_LEAVES_C, _CLOSING_IN_S * before)

    def _candidate(self, before: float, sign: float) -> Candidate | None:
        level_c = sum(self._course.temps_c[-_STANDS:]) / _STANDS
        above_c = _NEAR_C + (_ABOVE_S * before if sign > 0.0 else 0.0)
        for metal, point_c in FREEZING_POINTS_C.items():
            if -_NEAR_C <= level_c - point_c <= above_c:
                self._before_c_per_s = sign * before
                since_s = self._course.last_s - (_STANDS - 1) * LENGTH_S
                figures = Figures(level_c, None, sign * before, None, (_STANDS - 1) * LENGTH_S, metal=metal)
                return Candidate(Cause.PLATEAU, since_s, LEAST_LOG_ODDS + 1.5, figures)
        return None

    def _go_on(self, told: Candidate, context: Context) -> Candidate | None:
        course, before = self._course, self._before_c_per_s
        sign = -1.0 if context.kind is SegmentKind.COOL else 1.0
        now = course.c_per_s(0, 2)
        if sign * now > _GOES_ON * sign * before:
            return None
        figures = told.figures
        lasted_s = course.last_s - told.since_s
        figures = Figures(figures.temp_c, None, before, now, lasted_s, metal=figures.metal)
        falls = sign * course.c_per_s() < -0.25 * sign * before
        return Candidate(told.cause, told.since_s, -1.0 if falls else told.log_odds, figures)
