"""The climb budget: has the temperature climbed more, within the limit's own window, than the schedule allows?

`25 C / 15 min` means: within any 15 minutes no more than 25 °C of climb. So the present temperature is compared with
the lowest one inside the window, and nothing is extrapolated. One reading says little, so both ends of a climb are
lightly averaged, and by the very same weights: then the climb between them is an average of true climbs over the true
window, and no bend of the programme, not even an oven's notch, can make it more than the greatest of them.

Averaging costs its lag, noise costs a margin, and they pull against each other. Two averages are kept: a calm one with
a small margin for a moderate excess, a quick one with a wide margin for a great excess, which cannot wait. A slight
excess, or a rough flame, is told by longer means of both ends (`climb_bank`).

A dip that does not count (`dips`) is left out: until it is regained the climb runs straight from the temperature before
it, and from there on as the crucible may have gone on meanwhile. What climbs beyond that counts, and so does any low
that lasts longer or stands before a gap.

Knows nothing of segments but when one starts, and nothing of alarms: it states, it does not annunciate.
"""

import math
from collections import deque

from msgspec import Struct

from rampwarden.core.limits.climb_bank import ClimbBank
from rampwarden.core.limits.dips import DipWatch
from rampwarden.core.model import Noise
from rampwarden.core.noise_formulas import wider

# How the ends of a climb are averaged and what margin is kept. Measured by the ramp benchmark, no other source.
_CALM_FRACTION = 1.0 / 30.0
"""Lag of the calm average as a fraction of the window, > 0."""
_QUICK_FRACTION = 1.0 / 200.0
"""Lag of the quick average as a fraction of the window, > 0."""
_SAMPLE_FRACTION = 1.0 / 60.0
"""How far apart the averages are kept for the far end, as a fraction of the window, > 0; between them a line."""
_SILENT_AT = 0.95
"""Fraction of the limit, 0 … 1, up to which chance alone must not break the budget."""
_FALSE_EVERY_S = 345_600.0
"""s, > 0. One false break in this time would be allowed there: four days."""
_CHEAP = 0.04
"""Fraction of the budget, >= 0. A margin up to this is kept at the limit itself, so that a climb of exactly the
budget (an oven's notch of 25 °C) stays silent; it delays the alarm at 1.5 times the limit by 6 % of the window."""
_DEADBAND = 0.1
"""Fraction of the budget, 0 … 1, that a broken climb must fall below it before it counts as mended."""
_DIP_S = 120.0
"""s, > 0. The longest dip that is left out: half a minute of open lid and the way back."""
_PROBE_LAG_S = 20.0
"""s, > 0. After a corner the probe still shows the ramp before it for its own lag, which is forgiven."""


class BudgetState(Struct, frozen=True, gc=False):
    """Where the climb stands: `climb_c` above the window's low, `budget_c` allowed, `margin_c` kept for noise (°C).

    Below the window's low `climb_c` is negative. `broken` says so with a deadband: once broken, it stays so until the
    climb is well below its budget again. `blind_s`, where it is not zero: the climb is that of a time longer than the
    window in which nothing was read, and the budget what such a time allows at most, whatever the course was.
    """

    climb_c: float
    budget_c: float
    margin_c: float
    broken: bool
    blind_s: float = 0.0


class _Average:
    """An exponential average of the readings, the lows it had within the window, and the margin that goes with it.

    The margin is `chance_c` for noise and what the probe's lag still owes.

    The gain dt/(lag + dt) keeps the lag of a ramp exact at any pace and across gaps.
    """

    __slots__ = ("_lows", "_window_s", "chance_c", "lag_s", "level_c", "margin_c")

    def __init__(self, lag_s: float, window_s: float) -> None:
        self.lag_s = lag_s
        self._window_s = window_s
        self.level_c = 0.0
        self.chance_c = self.margin_c = 0.0
        self._lows: deque[tuple[float, float]] = deque()  # lowest first, ages falling: the window's monotonic queue

    def start(self, temp_c: float) -> None:
        """Begin anew at a temperature."""
        self.level_c = temp_c
        self._lows.clear()

    def note(self, time_s: float) -> None:
        """Keep the present level as a possible low."""
        self._note(time_s, self.level_c)
        lows = self._lows
        while len(lows) > 1 and lows[1][0] <= time_s - self._window_s:
            lows.popleft()

    def _note(self, time_s: float, low_c: float) -> None:
        lows = self._lows
        while lows and lows[-1][1] >= low_c:
            lows.pop()
        lows.append((time_s, low_c))

    def leave_out(self, dip: DipWatch, now_c: float) -> None:
        """Forget what was noted in a dip: from where the temperature last stood high it went straight to `now_c`."""
        from_s = dip.from_s + self.lag_s
        while self._lows and self._lows[-1][0] >= from_s:
            self._lows.pop()
        self._note(from_s, dip.from_c)
        self.level_c = now_c

    def climb_c(self, time_s: float, dip: DipWatch) -> float:
        """How far the level stands above the lowest of the window that leads up to it, °C."""
        edge_s = time_s - self._window_s
        if dip.open and not dip.regained:
            from_s = dip.from_s + self.lag_s
            if time_s > from_s:
                # The dip is replaced by a straight line from where it began to the present.
                over_c = self.level_c - dip.from_c
                if edge_s >= from_s:
                    return over_c * self._window_s / (time_s - from_s)
                return max(over_c, self.level_c - self._low_c(edge_s))
        return self.level_c - self._low_c(edge_s)

    def _low_c(self, edge_s: float) -> float:
        """The lowest level noted since `edge_s`; between two notes by a straight line."""
        lows = self._lows
        before_s, before_c = lows[0]
        if before_s >= edge_s:
            return before_c
        for time_s, low_c in lows:
            if time_s > edge_s:
                return before_c + (low_c - before_c) * (edge_s - before_s) / (time_s - before_s)
            before_s, before_c = time_s, low_c
        return before_c


class ClimbBudget:
    """Watches one limit: `climb_c` °C within any `window_s` seconds; of fall instead of climb if `falling`."""

    def __init__(self, climb_c: float, window_s: float, falling: bool = False) -> None:
        self._budget_c = climb_c
        self._window_s = window_s
        self._sign = -1.0 if falling else 1.0
        self._sample_s = window_s * _SAMPLE_FRACTION
        self._clear_c = climb_c * (1.0 - _DEADBAND)
        self._slack_c = climb_c * (1.0 - _SILENT_AT)
        self._calm = _Average(window_s * _CALM_FRACTION, window_s)
        self._quick = _Average(window_s * _QUICK_FRACTION, window_s)
        self._dip = DipWatch(_DIP_S)
        self._bank = ClimbBank(window_s)
        self.start(0.0)

    def start(self, time_s: float, ramp_c_per_s: float = 0.0, spared: float = 0.0) -> None:
        """Forget what came before `time_s`, where a new segment starts.

        `ramp_c_per_s` is the slope just before (falling is negative); the climb that the probe's lag still owes to its
        excess over this limit is forgiven for as long as it stays in the window, and so is `spared`, a share of the
        budget.
        """
        excess = self._sign * ramp_c_per_s - self._budget_c / self._window_s
        self._owed_c = max(0.0, excess) * _PROBE_LAG_S + spared * self._budget_c
        self._started_s = time_s
        self._last_s = time_s
        self._next_sample_s = time_s
        self._count = 0
        self._dip.start()
        self._owed_now_c = 0.0
        self._is_young = True
        self._noise: Noise | None = None
        self._broken = False

    def allow(self, climb_c: float) -> None:
        """Let it be another climb from now on, °C within the same window; what has been climbed stays."""
        self._budget_c = climb_c
        self._clear_c = climb_c * (1.0 - _DEADBAND)
        self._slack_c = climb_c * (1.0 - _SILENT_AT)
        self._noise = None

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> BudgetState:
        """Add a believed temperature (°C) at `time_s` (s, rising); gives where the climb stands now."""
        temp_c *= self._sign
        calm = self._calm
        quick = self._quick
        count = self._count = self._count + 1
        if count == 1:
            self._started_s = self._last_s = self._next_sample_s = time_s
            calm.start(temp_c)
            quick.start(temp_c)
            self._bank.start(time_s, temp_c)
        step_s = time_s - self._last_s
        if step_s > self._window_s:
            return self._after_blindness(time_s, temp_c, step_s)
        dip = self._dip
        was_in_dip, temp_c = self._follow_dip(time_s, temp_c, noise)
        self._last_s = time_s
        young = 1.0 / count  # a young average is a plain mean: it lags less, so it never overstates a climb
        gain = step_s / (calm.lag_s + step_s)
        calm.level_c += (gain if gain > young else young) * (temp_c - calm.level_c)
        gain = step_s / (quick.lag_s + step_s)
        quick.level_c += (gain if gain > young else young) * (temp_c - quick.level_c)
        if noise is not self._noise:
            self._set_margins(time_s, noise)
        bank = self._bank
        if not dip.open or dip.regained:
            if was_in_dip:
                self._leave_dip(time_s)
            elif bank.course.feed(time_s, temp_c):
                bank.judge(self._budget_c + self._owed_now_c, _CHEAP * self._budget_c, self._slack_c)
            if time_s >= self._next_sample_s:
                self._sample(time_s, noise)
        climb_c = calm.climb_c(time_s, dip)
        margin_c = calm.margin_c
        bar_c = self._clear_c if self._broken else self._budget_c
        if climb_c + quick.level_c - calm.level_c > 0.9 * bar_c:  # else the quick one is far from mattering
            quick_c = quick.climb_c(time_s, dip)
            if quick_c - quick.margin_c > climb_c - margin_c:
                climb_c = quick_c
                margin_c = quick.margin_c
        self._broken = climb_c > (bar_c if self._broken else bar_c + margin_c)
        told = bank.over
        if told is not None:
            self._broken = True
            told_margin_c = told.margin_c + self._owed_now_c
            if told.climb_c - told_margin_c > climb_c - margin_c:
                climb_c = told.climb_c
                margin_c = told_margin_c
        return BudgetState(climb_c, self._budget_c, margin_c, self._broken)

    def _after_blindness(self, time_s: float, temp_c: float, blind_s: float) -> BudgetState:
        """Judge what was climbed while nothing was read for longer than the window, and begin anew from here.

        The course is not known, its ends are. So many windows as the time has room for may each have spent a budget;
        what is more than that broke one of them, whichever it was.
        """
        climb_c, margin_c = temp_c - self._calm.level_c, self._calm.margin_c
        budget_c = self._budget_c * math.ceil(blind_s / self._window_s)
        self._count = 1
        self._started_s = self._last_s = self._next_sample_s = time_s
        self._dip.start()
        self._broken = False
        for average in (self._calm, self._quick):
            average.start(temp_c)
            average.note(time_s)
        self._bank.start(time_s, temp_c)
        self._noise = None
        return BudgetState(climb_c, budget_c, margin_c, climb_c > budget_c + margin_c, blind_s)

    def _follow_dip(self, time_s: float, temp_c: float, noise: Noise) -> tuple[bool, float]:
        """Give whether a dip was open before this reading, and what is known of the crucible by it, °C."""
        dip = self._dip
        if dip.breaks_off(time_s, noise):
            self._keep_low(self._last_s)
        was_in_dip = dip.open and not dip.regained
        if dip.feed(time_s, temp_c, noise) and dip.regained:
            # The probe still comes back: the crucible stands where it may have gone on to, or above.
            temp_c = max(temp_c, dip.expected_c(time_s, self._budget_c / self._window_s))
        return was_in_dip, temp_c

    def _leave_dip(self, time_s: float) -> None:
        """Go on after a dip, with nothing between; the averages need not climb out of it. A mere fall counts."""
        dip, course = self._dip, self._bank.course
        if dip.regained:
            now_c = dip.expected_c(time_s, self._budget_c / self._window_s)
            self._calm.leave_out(dip, now_c)
            self._quick.leave_out(dip, now_c)
            course.bridge(dip.from_s, time_s, now_c)
        else:
            self._keep_low(time_s)
            course.bridge(dip.from_s, time_s, self._quick.level_c)
        self._next_sample_s = time_s

    def _keep_low(self, time_s: float) -> None:
        """Let what stands low now be what a climb is counted from: no dip, a fall."""
        self._calm.level_c = self._quick.level_c
        self._calm.note(time_s)
        self._quick.note(time_s)

    def _sample(self, time_s: float, noise: Noise) -> None:
        self._next_sample_s = time_s + self._sample_s
        self._calm.note(time_s)
        self._quick.note(time_s)
        self._set_margins(time_s, noise)

    def _set_margins(self, time_s: float, noise: Noise) -> None:
        """Compute both margins for this noise, and what the probe's lag still owes.

        What chance may do changes with the age only until there has been a whole window.
        """
        age_s = time_s - self._started_s
        owed_c = 0.0
        if self._owed_c > 0.0:
            gone_s = age_s - self._window_s - self._calm.lag_s - self._sample_s
            owed_c = self._owed_c * math.exp(-max(0.0, gone_s) / _PROBE_LAG_S)
        self._owed_now_c = owed_c
        if noise is not self._noise or self._is_young:
            self._is_young = age_s <= self._window_s
            self._noise = noise
            self._bank.set_noise(noise)
            for average in (self._calm, self._quick):
                error_c = climb_error(noise, average.lag_s, self._window_s, age_s)
                error_c *= wider(noise, 2.0 * average.lag_s)
                looks = _FALSE_EVERY_S / (average.lag_s + noise.flicker_s)
                sure = math.sqrt(2.0 * math.log(max(looks, 2.0)))
                average.chance_c = max(sure * error_c - self._slack_c, min(sure * error_c, _CHEAP * self._budget_c))
        for average in (self._calm, self._quick):
            average.margin_c = owed_c + average.chance_c


def climb_error(noise: Noise, lag_s: float, window_s: float, age_s: float = math.inf) -> float:
    """Standard error (°C) of the difference between two exponential averages of lag `lag_s`, `window_s` apart.

    An average of lag a leaves σ² τ/(τ+a) of the flicker and σ² Δ/(2a+Δ) of the white noise. Ends closer than
    the flicker lasts share some of it. The first low of an average only `age_s` old is little better than one reading.
    """

    def white_c2(a: float) -> float:
        return noise.white_c * noise.white_c * noise.interval_s / (2.0 * a + noise.interval_s)

    def flicker_c2(a: float) -> float:
        return noise.flicker_c * noise.flicker_c * noise.flicker_s / (noise.flicker_s + a)

    now_s = min(lag_s, age_s)
    first_s = lag_s if age_s > window_s else 0.0
    apart = 1.0 - math.exp(-min(window_s, age_s) / (noise.flicker_s + lag_s))
    return math.sqrt(white_c2(now_s) + white_c2(first_s) + apart * (flicker_c2(now_s) + flicker_c2(first_s)))
