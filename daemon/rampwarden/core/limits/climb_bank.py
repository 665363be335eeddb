"""The climb over a window, averaged for as long as it takes: what tells a slight excess in a rough flame.

A climb between two readings has the flicker of both in it. Its mean over the last S seconds, for S from a fifteenth of
the window to eight windows, has less of it the longer S is: x = (mean of the last S) - (mean of the S a window before).
As a mean of true climbs over the true window it cannot exceed the greatest of them, whatever the programme did. So each
member of the bank asks for its own standard error times what independent looks need, and no more.

A long mean remembers what is over. It therefore speaks only while the mean over half its time is above the limit too,
and no shorter one denies it.

Knows the course and the noise, and nothing of segments or alarms.
"""

import math

from msgspec import Struct

from rampwarden.core.limits.course_integral import CourseIntegral
from rampwarden.core.model import Noise
from rampwarden.core.noise_formulas import climb_error_c, wider

# How the bank is laid out. Measured by the ramp benchmark, no other source.
_CELLS = 120
"""Points at which the course's integral is kept within a window, > 0."""
_SIZES = (8, 11, 16, 23, 32, 45, 64, 91, 128, 181, 256, 362, 512, 724, 960)
"""S of each member in such points: a fifteenth of the window to eight windows, each √2 times the one before."""
_LONGEST = _SIZES[-1] + _CELLS
_FALSE_EVERY_S = 259_200.0
"""s, > 0. One false break in three days, were all members independent. Neighbours share most of their readings, and it
takes some thirty days (the benchmark counts them)."""
_DENIED_BY = 2.5
"""Errors by which a shorter mean must lie below the limit to deny a longer one."""


class BankState(Struct, frozen=True, gc=False):
    """A member's mean climb over the window (°C), and the margin it asks for beyond the budget (°C)."""

    climb_c: float
    margin_c: float


class ClimbBank:
    """Mean climbs over `window_s` seconds of a course that rises where the limit looks."""

    def __init__(self, window_s: float) -> None:
        self._window_s = window_s
        self._cell_s = window_s / _CELLS
        self.course = CourseIntegral(self._cell_s, _LONGEST)
        """To be fed with every temperature; judged where it passes a point."""
        self._errors_c = [0.0] * len(_SIZES)
        self._sure_c = [0.0] * len(_SIZES)
        self._noise: Noise | None = None
        self.over: BankState | None = None
        """The member furthest beyond its margin at the last point of the grid; None where none speaks."""
        self.start(0.0, 0.0)

    def start(self, time_s: float, temp_c: float) -> None:
        """Forget what came before and begin at a temperature."""
        self.over = None
        self.course.start(time_s, temp_c)

    def set_noise(self, noise: Noise) -> None:
        """Take note of what one reading scatters by."""
        if noise is self._noise:
            return
        self._noise = noise
        self.course.set_pace(noise.interval_s)
        for k, size in enumerate(_SIZES):
            span_s = size * self._cell_s
            error_c = self._errors_c[k] = wider(noise, span_s) * climb_error_c(noise, span_s, self._window_s)
            looks = _FALSE_EVERY_S * len(_SIZES) / math.tau
            looks /= math.sqrt(span_s * (noise.flicker_s + noise.interval_s))
            self._sure_c[k] = math.sqrt(2.0 * math.log(max(looks, 2.0))) * error_c

    def judge(self, budget_c: float, cheap_c: float, slack_c: float) -> None:
        """Say by `over` which member stands furthest beyond a budget (°C), if its margin and the shorter ones agree.

        A margin up to `cheap_c` is kept in full; of a larger one `slack_c` is taken off, as so much below the budget
        chance alone must not break it.
        """
        self.over = None
        course = self.course
        sums = course.sums
        known = len(sums) - 1
        now = sums[-1]
        past = sums[-1 - _CELLS] if known >= _CELLS else 0.0
        climbs_c: list[float | None] = []
        most_c = 0.0
        all_read = course.all_read
        for k, size in enumerate(_SIZES):
            if known < size + _CELLS:
                break
            span_s = size * self._cell_s
            if not all_read and 2.0 * max(course.unread_s(0, size), course.unread_s(_CELLS, size)) > span_s:
                climbs_c.append(None)
                continue
            climb_c = (now - sums[-1 - size] - past + sums[-1 - _CELLS - size]) / span_s
            if climb_c + _DENIED_BY * self._errors_c[k] < budget_c:
                return
            climbs_c.append(climb_c)
            if climb_c <= budget_c + most_c:
                continue
            sure_c = self._sure_c[k]
            margin_c = max(sure_c - slack_c, min(sure_c, cheap_c))
            if climb_c - budget_c - margin_c > most_c and self._agrees(k, climbs_c, budget_c):
                most_c = climb_c - budget_c - margin_c
                self.over = BankState(climb_c, margin_c)

    def _agrees(self, k: int, climbs_c: list[float | None], budget_c: float) -> bool:
        """Tell whether the member two sizes shorter stands above the limit too, where there is one."""
        if k < 2:
            return True
        shorter_c = climbs_c[k - 2]
        return shorter_c is not None and shorter_c > budget_c
