"""In a soak the heat grows less by itself: gas, or turned down. Said before the soak leaves its band, if it can be.

A person who watches a soak lets it swing, and mends it: a fall grows slower before it has gone far below the target.
One that nobody mends goes on at its pace or faster. So what is told is a fall below the target that has not slowed for
a minute and a half. In the first minutes of a soak people find their valve, and a drying oven has none.
"""

from rampwarden.core.explanation.slow.half_minutes import LENGTH_S, HalfMinutes
from rampwarden.core.explanation.slow_rules import LEAST_LOG_ODDS, Candidate, Glance
from rampwarden.core.explanation.statements import Cause, Context, Figures
from rampwarden.core.schedule import SegmentKind

# When a fall is one that nobody mends. Common practice, no source, but where said.
_SETTLES_S = 480.0
"""s of a soak in which the valve is being found."""
_SETTLED_S = 900.0
"""s after which it has been found."""
_DEEP = (0.7, 0.3)
"""Share of the way down to the band's lower edge at which a fall is told: while settling, and later."""
_OUTSIDE = 1.6
"""The same, beyond which the soak has long been left: nothing of it is a soak's sag."""
_LEAST_C_PER_S = 0.35 / 60.0
_DEVIATIONS = 3.0
_SLOPE_ERROR = 0.0052
"""1/s. Standard error of the slope through eight half minutes, over what one of them scatters by: own arithmetic."""
_SLOWED = 0.9
"""Share of the slope of two minutes ago that must be there still: a fall that is being mended loses more."""
_RUN, _RUN_SOON = 3, 2
"""Half minutes in a row; and in a settled soak half way down and growing steeper, since the band is left soon."""
_HALF_WAY = 0.5
_FLICKERS = 0.08
"""Share of a lit flame's flicker below which it may as well be out."""
_ENDS_C_PER_S = 0.1 / 60.0


class SagRule:
    """Judges each half minute of a soak."""

    def __init__(self, course: HalfMinutes) -> None:
        self._course = course
        self.restart()

    def restart(self) -> None:
        """Forget what was seen of the course."""
        self._run = 0
        self._told: Candidate | None = None

    def feed(self, glance: Glance) -> Candidate | None:
        """Judge one more half minute."""
        context = glance.context
        lasts = context is not None and context.kind is SegmentKind.SOAK and not glance.out
        if context is None or not lasts or len(self._course.temps_c) < 10:
            self._told = None
            self._run = 0
        elif self._told is not None:
            self._told = self._go_on(self._told)
        else:
            way = self._way_down(glance, context)
            self._run = self._run + 1 if way is not None else 0
            soon = way is not None and way >= _HALF_WAY and glance.entered_s >= _SETTLED_S and self._steepens()
            self._told = self._candidate() if self._run >= (_RUN_SOON if soon else _RUN) else None
        return self._told

    def _way_down(self, glance: Glance, context: Context) -> float | None:
        """Give how far down to the band's lower edge it is (1 there); None unless it falls and nobody mends it."""
        target_c, lowest_c = context.target_c, context.lowest_c
        if target_c is None or lowest_c is None or not context.wants_flame or glance.entered_s < _SETTLES_S:
            return None
        if min(glance.undisturbed_s, glance.marked_s) < 4.0 * LENGTH_S:
            return None
        if glance.flicker is not None and glance.flicker < _FLICKERS:
            return None
        course = self._course
        way = (target_c - course.temps_c[-1]) / max(target_c - lowest_c, 1.0)
        if not _DEEP[glance.entered_s >= _SETTLED_S] <= way < _OUTSIDE:
            return None
        now, before = course.c_per_s(), course.c_per_s(4)
        least = max(_LEAST_C_PER_S, _DEVIATIONS * _SLOPE_ERROR * course.scatter_c())
        falls = course.line_c_per_s(8) <= -least and before < 0.0 and now <= _SLOWED * before
        return way if falls else None

    def _steepens(self) -> bool:
        return self._course.c_per_s() <= self._course.c_per_s(4)

    def _candidate(self) -> Candidate:
        course = self._course
        temps_c = course.temps_c
        highest = max(range(len(temps_c)), key=temps_c.__getitem__)
        since_s = course.last_s - (len(temps_c) - 1 - highest) * LENGTH_S
        return Candidate(Cause.SAG, since_s, LEAST_LOG_ODDS + 1.0, self._figures(temps_c[highest]))

    def _go_on(self, told: Candidate) -> Candidate | None:
        if self._course.line_c_per_s(8) > -_ENDS_C_PER_S:
            self._run = 0
            return None
        highest_c = (told.figures.temp_c or 0.0) - (told.figures.change_c or 0.0)
        return Candidate(told.cause, told.since_s, told.log_odds, self._figures(highest_c))

    def _figures(self, highest_c: float) -> Figures:
        now_c = self._course.temps_c[-1]
        return Figures(now_c, now_c - highest_c, None, self._course.line_c_per_s(8))
