"""Heat that is off where it should be on, and on where it should be off, told from the course alone.

An oven's fall is its thermostat's as long as it comes back; the first one cannot be told from a trip until it has
lasted, and is said as that pair. A shut furnace without heat cools at a pace that no burning one does.
"""

import math

from rampwarden.core.explanation.slow.half_minutes import LENGTH_S, ROUGHEST_OVEN_C, HalfMinutes
from rampwarden.core.explanation.slow_rules import LEAST_LOG_ODDS, Candidate, Glance
from rampwarden.core.explanation.statements import Cause, Figures
from rampwarden.core.schedule import SegmentKind

# Common practice, no source.
_LEAST_FALL_C = 2.5
_DEVIATIONS = 8.0
_LEAST_S = 240.0
_SEEN_S = 150.0
"""s of the heat that must have been seen before a fall: what falls from the first minute was falling before."""
_BEYOND_SWING = 1.3
"""Times the deepest and longest fall that came back since the oven was set."""
_SWING_C = 1.0
_FALLS_C_PER_S = 0.3 / 60.0
_REGAINED = 0.4
"""Share of a fall that is regained when the heat is on again."""
_TURNED_OFF_S = 390.0
"""s after a cooling has begun in which people turn off and a pot runs on."""
_HOT_C = 400.0
"""°C. Above it a shut furnace without heat cools faster than this for each degree above the room:"""
_COOLS_PER_S = 1.5 / 60.0 / 1000.0
_ROOM_C = 20.0
_FLICKERS = 0.5
"""Share of a lit flame's flicker that only a flame has; with it a fall so much faster is a small flame's:"""
_FLICKERING = 1.6
_HELD_BACK = 0.5
"""Share of the fastest fall that the schedule allows; people who keep to it fall nearly as fast as they may."""
_UNSURE = 5.0
"""Standard errors of that fall by which it must be slower; flicker that lasts makes them half as large again."""
_OVER, _OVER_SLOW = 8, 16
"""Half minutes under the line that says how fast it falls."""
_SMALL_FLAME = 2.5
"""Once it is said, a fall so much faster does not end it; people who cool by a small flame on purpose fall faster."""
_RUN = 2


class HeatOffRule:
    """Judges each half minute of an oven's climb or soak."""

    def __init__(self, course: HalfMinutes) -> None:
        self._course = course
        self._first_s = math.inf
        self.restart()

    def restart(self) -> None:
        """Forget what was seen of the course."""
        self._highest_c = self._lowest_c = 0.0
        self._highest_s: float | None = None
        self._swing_c = self._swing_s = 0.0
        self._told: Candidate | None = None

    def feed(self, glance: Glance) -> Candidate | None:
        """Judge one more half minute."""
        course, context = self._course, glance.context
        if context is None or not (context.kind.heats and context.in_oven):
            self._highest_s = self._told = None
            self._swing_c = self._swing_s = 0.0
            return None
        now_c, now_s = course.temps_c[-1], course.last_s
        self._first_s = min(self._first_s, now_s)
        if self._highest_s is None or now_c >= self._highest_c:
            if self._highest_s is not None and self._highest_c - self._lowest_c > _SWING_C:
                self._swing_c = max(self._swing_c, self._highest_c - self._lowest_c)
                self._swing_s = max(self._swing_s, now_s - self._highest_s)
            self._highest_c = self._lowest_c = now_c
            self._highest_s = now_s
            self._told = None
            return None
        self._lowest_c = min(self._lowest_c, now_c)
        self._told = self._judge(now_s - self._highest_s, self._highest_s)
        return self._told

    def _judge(self, lasted_s: float, since_s: float) -> Candidate | None:
        course = self._course
        now_c = course.temps_c[-1]
        fallen_c = self._highest_c - now_c
        if self._told is not None and now_c - self._lowest_c > _REGAINED * (self._highest_c - self._lowest_c):
            # It was the thermostat's: what falls no deeper and no longer is the same again.
            self._swing_c = max(self._swing_c, self._highest_c - self._lowest_c)
            self._swing_s = max(self._swing_s, lasted_s)
            return None
        if self._told is None:
            if since_s - self._first_s < _SEEN_S:
                return None
            if course.scatter_c() > ROUGHEST_OVEN_C:
                return None
            least_c = max(_LEAST_FALL_C, _DEVIATIONS * course.scatter_c(), _BEYOND_SWING * self._swing_c)
            if fallen_c < least_c or lasted_s < max(_LEAST_S, _BEYOND_SWING * self._swing_s):
                return None
            if len(course.temps_c) < 5 or course.c_per_s() > -_FALLS_C_PER_S:
                return None
        figures = Figures(now_c, -fallen_c, None, course.c_per_s() if len(course.temps_c) > 4 else None, lasted_s)
        return Candidate(Cause.HEAT_OFF, since_s, LEAST_LOG_ODDS + 1.0, figures)


class LeftOnRule:
    """Judges each half minute of a cooling."""

    def __init__(self, course: HalfMinutes) -> None:
        self._course = course
        self.restart()

    def restart(self) -> None:
        """Forget what was seen of the course."""
        self._run = 0
        self._told: Candidate | None = None

    def feed(self, glance: Glance) -> Candidate | None:
        """Judge one more half minute."""
        course, context = self._course, glance.context
        if context is None or context.kind is not SegmentKind.COOL or len(course.temps_c) <= _OVER:
            self._told = None
            self._run = 0
            return None
        now_c = course.temps_c[-1]
        cools = _COOLS_PER_S * (now_c - _ROOM_C)
        over = _OVER
        if self._told is not None:
            cools *= _SMALL_FLAME
        elif glance.flicker is not None and glance.flicker > _FLICKERS:
            cools *= _FLICKERING
        if context.limit is not None:
            held_back = _HELD_BACK * context.limit.c_per_s
            if held_back < cools:
                # Who may cool no faster than this keeps a fire in on purpose; so slow a fall wants a longer look.
                cools, over = held_back, _OVER_SLOW
        now = course.line_c_per_s(over)
        unsure = _UNSURE * course.scatter_c() * math.sqrt(12.0 / over**3) / LENGTH_S
        stays = now - unsure > -cools and now_c > _HOT_C and glance.entered_s >= _TURNED_OFF_S
        self._run = self._run + 1 if stays else 0
        self._told = None
        if self._run >= _RUN:
            since_s = glance.slot.time_s - glance.entered_s
            figures = Figures(now_c, None, None, now, glance.entered_s)
            self._told = Candidate(Cause.LEFT_ON, since_s, LEAST_LOG_ODDS + 1.0, figures)
        return self._told
