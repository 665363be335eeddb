"""The climb slows by itself: gas that fades, or a valve that was turned down. Said as that pair.

Looks only at climbs that have lost most of their slope far from their target, and leaves it to `dying_away` whether a
hand's one turn explains that better. People close in on a target as a bottle fades, so near it nothing is said.
"""

from rampwarden.core.explanation.slow.dying_away import LEAST_WINDOW, WINDOW, weigh
from rampwarden.core.explanation.slow.half_minutes import LENGTH_S, HalfMinutes
from rampwarden.core.explanation.slow_rules import LEAST_LOG_ODDS, Candidate, Glance
from rampwarden.core.explanation.statements import Cause, Context, Figures
from rampwarden.core.schedule import SegmentKind

_LEAST_C_PER_S = 0.07
"""°C/s. A slower climb slows for other reasons: an oven's notches."""
_LEFT = 0.35
"""Share of the slope that may be left: people mend a climb by less, and a furnace slows by less as it gets hot."""
_REGAINED = 0.6
"""Share of the slope with which the climb goes on again."""
_AGES = range(12, 24)
"""Half minutes since it began: three of a furnace's lags, and not so long that its beginning has left the window."""
_WAS_FULL = 0.72
"""Share of the fastest slope in the window that must have been left when it began."""
_LEAST_FIT = -12.0
"""Log likelihood below which the course is something else altogether."""
_BEGINS = 2.5
"""Log likelihood by which a beginning must explain more than a furnace that only slows down as it gets hot."""
_CLOSING_IN_S = 250.0
"""s. A target nearer than this at the full slope is being closed in on. Common practice, no source."""
_THRESHOLD = 0.1
"""Log odds against a hand from which the pair is told: that the climb has slowed is sure by then, and the pair holds
the truth either way."""
_TWICE = 2
"""Half minutes in a row that must say so."""


class FadingRule:
    """Judges each half minute of a ramp."""

    def __init__(self, course: HalfMinutes) -> None:
        self._course = course
        self._before_c_per_s = 0.0
        self.restart()

    def restart(self) -> None:
        """Forget what was seen of the course."""
        self._said = 0
        self._told: Candidate | None = None

    def feed(self, glance: Glance) -> Candidate | None:
        """Judge one more half minute."""
        context = glance.context
        if context is None or context.kind is not SegmentKind.RAMP or glance.out:
            self._told = None
            self._said = 0
        elif self._told is not None:
            self._told = self._go_on(self._told)
        else:
            candidate = self._look(glance, context)
            self._said = self._said + 1 if candidate is not None else 0
            self._told = candidate if self._said >= _TWICE else None
        return self._told

    def _look(self, glance: Glance, context: Context) -> Candidate | None:
        course = self._course
        temps_c = course.temps_c
        if len(temps_c) < LEAST_WINDOW or context.target_c is None:
            return None
        now = course.c_per_s()
        before = course.steepest_c_per_s(WINDOW)
        if before < _LEAST_C_PER_S or now > _LEFT * before:
            return None
        weighed = weigh(temps_c, course.scatter_c(), before)
        lasted_s = (weighed.age - 0.5) * LENGTH_S
        left_s = (context.target_c - temps_c[-1 - weighed.age]) / before
        was_full = course.c_per_s(weighed.age) > _WAS_FULL * before
        begins = weighed.fit > max(_LEAST_FIT, weighed.slows + _BEGINS)
        judged = weighed.age in _AGES and was_full and begins and left_s > _CLOSING_IN_S
        disturbed = min(glance.undisturbed_s, glance.marked_s) < lasted_s - LENGTH_S
        if not judged or disturbed or weighed.log_odds < _THRESHOLD:
            return None
        self._before_c_per_s = before
        log_odds = LEAST_LOG_ODDS + min(weighed.log_odds, 4.0)
        return Candidate(Cause.FADING, course.last_s - lasted_s, log_odds, self._figures(now))

    def _go_on(self, told: Candidate) -> Candidate | None:
        now = self._course.c_per_s()
        if now > _REGAINED * self._before_c_per_s:
            self._said = 0
            return None
        return Candidate(told.cause, told.since_s, told.log_odds, self._figures(now))

    def _figures(self, now: float) -> Figures:
        return Figures(self._course.temps_c[-1], None, self._before_c_per_s, now)
