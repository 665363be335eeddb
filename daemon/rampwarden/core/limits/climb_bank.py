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

from rampwarden.core.model import Noise
from rampwarden.core.noise_formulas import climb_error_c

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
_YOUNG_S = 1000.0
"""s. A law learnt in a time t may be wrong about long means by a share (1000 s/t)⁴ of their error, ..."""
_MOST_YOUNG = 0.5
"""... but by no more than so much: at first the rough fire that is assumed before still counts for most."""
_BLIND_INTERVALS = 4.0
"""A step of so many usual intervals is a gap, in which a line is assumed and nothing was read."""


class BankState(Struct, frozen=True, gc=False):
    """A member's mean climb over the window (°C), and the margin it asks for beyond the budget (°C)."""

    climb_c: float
    margin_c: float


class ClimbBank:
    """Mean climbs over `window_s` seconds of a course that rises where the limit looks."""

    def __init__(self, window_s: float) -> None:
        self._window_s = window_s
        self._cell_s = window_s / _CELLS
        self._errors_c = [0.0] * len(_SIZES)
        self._sure_c = [0.0] * len(_SIZES)
        self._noise: Noise | None = None
        self._blind_above_s = math.inf
        self.over: BankState | None = None
        """The member furthest beyond its margin at the last point of the grid; None where none speaks."""
        self.start(0.0, 0.0)

    def start(self, time_s: float, temp_c: float) -> None:
        """Forget what came before and begin at a temperature."""
        self.over = None
        self._from_s = time_s
        self._from_c = temp_c
        self._last_s = time_s
        self._last_c = 0.0
        self._sum = 0.0  # °C s since `from`, above `from_c`
        self._blind = 0.0  # s of it in which nothing was read
        self._next_s = time_s + self._cell_s
        self._sums = [0.0]
        self._blinds = [0.0]
        self._first_s = time_s

    def set_noise(self, noise: Noise) -> None:
        """Take note of what one reading scatters by."""
        if noise is self._noise:
            return
        self._noise = noise
        self._blind_above_s = max(_BLIND_INTERVALS * noise.interval_s, 2.0 * self._cell_s)
        wider = doubt(noise)
        for k, size in enumerate(_SIZES):
            span_s = size * self._cell_s
            error_c = self._errors_c[k] = wider * climb_error_c(noise, span_s, self._window_s)
            looks = _FALSE_EVERY_S * len(_SIZES) / math.tau
            looks /= math.sqrt(span_s * (noise.flicker_s + noise.interval_s))
            self._sure_c[k] = math.sqrt(2.0 * math.log(max(looks, 2.0))) * error_c

    def feed(self, time_s: float, temp_c: float) -> bool:
        """Lead the course on to a temperature (°C) at `time_s` (s, rising); tells whether a point was passed."""
        step_s = time_s - self._last_s
        blind = step_s > self._blind_above_s
        return self._lead(time_s, step_s, temp_c - self._from_c, blind=blind)

    def bridge(self, from_s: float, time_s: float, temp_c: float) -> None:
        """Replace the course since `from_s` (s) by a line up to a temperature (°C) now, and take it for unread."""
        back = min(len(self._sums) - 1, max(0, math.ceil((self._next_s - self._cell_s - from_s) / self._cell_s)))
        if back:
            del self._sums[-back:], self._blinds[-back:]
        here_s = self._next_s - self._cell_s * (1 + back)
        self._sum, self._blind = self._sums[-1], self._blinds[-1]
        level_c = self._last_c
        if len(self._sums) > 2:  # what the grid itself says of the level there
            level_c = 1.5 * (self._sums[-1] - self._sums[-2]) - 0.5 * (self._sums[-2] - self._sums[-3])
            level_c /= self._cell_s
        self._next_s = here_s + self._cell_s
        self._last_s, self._last_c = here_s, level_c
        self._lead(time_s, time_s - here_s, temp_c - self._from_c, blind=True)

    def _lead(self, time_s: float, step_s: float, rise_c: float, *, blind: bool) -> bool:
        """Integrate a straight step, and keep the integral where it passes the grid."""
        if step_s <= 0.0:
            return False
        before_c = self._last_c
        passed = False
        if time_s >= self._next_s:
            passed = True
            slope = (rise_c - before_c) / step_s
            while time_s >= self._next_s:
                part_s = self._next_s - self._last_s
                self._sums.append(self._sum + part_s * (before_c + 0.5 * slope * part_s))
                self._blinds.append(self._blind + (part_s if blind else 0.0))
                self._next_s += self._cell_s
            if len(self._sums) > 2 * _LONGEST:
                del self._sums[: -_LONGEST - 1], self._blinds[: -_LONGEST - 1]
        self._sum += 0.5 * step_s * (before_c + rise_c)
        if blind:
            self._blind += step_s
        self._last_s = time_s
        self._last_c = rise_c
        return passed

    def judge(self, budget_c: float, cheap_c: float, slack_c: float) -> None:
        """Say by `over` which member stands furthest beyond a budget (°C), if its margin and the shorter ones agree.

        A margin up to `cheap_c` is kept in full; of a larger one `slack_c` is taken off, as so much below the budget
        chance alone must not break it.
        """
        self.over = None
        sums, blinds = self._sums, self._blinds
        known = len(sums) - 1
        now, then = sums[-1], 0.0
        past = sums[-1 - _CELLS] if known >= _CELLS else 0.0
        climbs_c: list[float | None] = []
        most_c = 0.0
        for k, size in enumerate(_SIZES):
            if known < size + _CELLS:
                break
            span_s = size * self._cell_s
            then = sums[-1 - size]
            blind_s = blinds[-1] - blinds[-1 - size]
            blind_before_s = blinds[-1 - _CELLS] - blinds[-1 - _CELLS - size]
            if 2.0 * max(blind_s, blind_before_s) > span_s:
                climbs_c.append(None)
                continue
            climb_c = (now - then - past + sums[-1 - _CELLS - size]) / span_s
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


def doubt(noise: Noise) -> float:
    """By what factor errors are taken wider than a noise says: not learnt for long, or no law of one time constant."""
    if noise.learnt_s <= _YOUNG_S:
        return noise.spread * (1.0 + _MOST_YOUNG)
    return noise.spread * (1.0 + min(_MOST_YOUNG, (_YOUNG_S / noise.learnt_s) ** 4))
