"""The displayed ramp: a least-squares slope over a sliding window of true time stamps, with an honest standard error.

Owns the window's readings and their running sums. Knows nothing of limits: whether a ramp is too fast is not decided
here. The error counts flame flicker as what it is, correlated: it does not fall with the number of readings, and where
flicker has no one time constant (1/f) it falls with the window no faster than that. `DisplayedRamp` adds what a line
misses of a course that bends.
"""

import math
from collections import deque

from rampwarden.core.limits.slope_misfit import SlopeMisfit
from rampwarden.core.model import Noise, Ramp

_FEWEST_READINGS = 3
_SLOW_FROM = 13.0
"""Correlation times from which on a window shows what the law of one time constant leaves out."""
_ONE_OVER_F = 0.35
"""What `Noise.spread` exceeds 1 by where the flicker is as slow as it is fast. Both by 1/f noise, own arithmetic."""
_SHOWN_AFTER_S = 60.0
"""s. In the first minute of anything a slope is no more than noise and the probe's lag. Common practice, no source."""
_OF_WINDOW = 0.9


class SlopeFit:
    """Least squares over the last `window_s` seconds, at a cost that does not depend on the window's length.

    Sums run relative to an anchor reading and are made afresh from the window's own readings once per window, so that
    rounding cannot pile up over days and time stamps of any size keep their digits.
    """

    def __init__(self, window_s: float) -> None:
        self._window_s = window_s
        self._readings: deque[tuple[float, float]] = deque()
        self.restart()

    def restart(self) -> None:
        """Forget all readings."""
        self._readings.clear()
        self._noise: Noise | None = None
        self._anchor_s = 0.0
        self._anchor_c = 0.0
        self._until_fresh = 0
        self._t = self._tt = self._y = self._ty = 0.0

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> Ramp | None:
        """Add a reading (s, °C); gives the slope over the window, or None with fewer than three readings in it."""
        self.add(time_s, temp_c, noise)
        return self.ramp()

    def add(self, time_s: float, temp_c: float, noise: Noise) -> None:
        """Add a reading (s, °C) that scatters by this noise."""
        self._noise = noise
        readings = self._readings
        readings.append((time_s, temp_c))
        if self._until_fresh <= 0:
            self._freshen()
        else:
            self._until_fresh -= 1
            t = time_s - self._anchor_s
            y = temp_c - self._anchor_c
            self._t += t
            self._tt += t * t
            self._y += y
            self._ty += t * y
        oldest_s = time_s - self._window_s
        while readings[0][0] < oldest_s:
            gone_s, gone_c = readings.popleft()
            t = gone_s - self._anchor_s
            y = gone_c - self._anchor_c
            self._t -= t
            self._tt -= t * t
            self._y -= y
            self._ty -= t * y

    def ramp(self) -> Ramp | None:
        """Give the slope over the window that ends with the last reading, or None with fewer than three in it."""
        readings, noise = self._readings, self._noise
        n = len(readings)
        if n < _FEWEST_READINGS or noise is None:
            return None
        time_s = readings[-1][0]
        spread_s2 = self._tt - self._t * self._t / n
        if spread_s2 <= 0.0:
            return None
        slope = (self._ty - self._t * self._y / n) / spread_s2
        span_s = time_s - readings[0][0]
        return Ramp(time_s, slope, slope_standard_error(noise, span_s, spread_s2), span_s)

    def _freshen(self) -> None:
        readings = self._readings
        middle = readings[len(readings) // 2]
        self._anchor_s, self._anchor_c = middle
        self._until_fresh = max(len(readings), 50)
        self._t = self._tt = self._y = self._ty = 0.0
        for time_s, temp_c in readings:
            t = time_s - self._anchor_s
            y = temp_c - self._anchor_c
            self._t += t
            self._tt += t * t
            self._y += y
            self._ty += t * y


class DisplayedRamp:
    """The slope over the last `window_s` seconds as people read it: as the slope now, known after a minute or a window.

    Drawn when somebody looks, which is more seldom than there are readings.
    """

    def __init__(self, window_s: float) -> None:
        self.window_s = window_s
        self._fit, self._misfit = SlopeFit(window_s), SlopeMisfit(window_s)
        self._drawn: Ramp | None = None
        self._is_drawn = True

    def restart(self) -> None:
        """Forget all readings."""
        self._fit.restart()
        self._misfit.restart()
        self._drawn, self._is_drawn = None, True

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> None:
        """Add a reading (s, °C)."""
        self._fit.add(time_s, temp_c, noise)
        slope = 0.0
        if self._misfit.needs_slope(time_s):
            ramp = self._fit.ramp()
            slope = 0.0 if ramp is None else ramp.c_per_s
        self._misfit.feed(time_s, temp_c, slope, noise)
        self._is_drawn = False

    @property
    def drawn(self) -> Ramp | None:
        """What the readings give, however few; None with fewer than three."""
        if not self._is_drawn:
            ramp, misfit = self._fit.ramp(), self._misfit
            if ramp is not None and misfit.c_per_s > 0.0:
                error = math.hypot(ramp.standard_error_c_per_s, misfit.c_per_s)
                ramp = Ramp(ramp.time_s, ramp.c_per_s, error, ramp.span_s)
            self._drawn, self._is_drawn = ramp, True
        return self._drawn

    @property
    def known(self) -> Ramp | None:
        """The same, None while it is too early to say."""
        ramp = self.drawn
        early = ramp is None or ramp.span_s < min(_SHOWN_AFTER_S, _OF_WINDOW * self.window_s)
        return None if early else ramp


def slope_standard_error(noise: Noise, span_s: float, spread_s2: float) -> float:
    """Standard error of a least-squares slope, °C/s.

    `span_s` is the window's length, `spread_s2` the sum of squared time stamps about their mean, s². White noise gives
    the textbook σ/√spread (the Cramér–Rao bound); flicker adds the double integral of its autocorrelation
    exp(-|lag|/τ) with the slope's weights 12 (t - T/2)/T³ over the window, in closed form. Where `noise.spread` says
    that there is flicker of many time constants, the share of the slow ones is added in windows long beside τ.
    """
    white = noise.white_c * noise.white_c / spread_s2
    if noise.flicker_c <= 0.0 or span_s <= 0.0:
        return math.sqrt(white)
    x = span_s / noise.flicker_s
    if x < 0.1:  # the closed form loses its digits; its series does not
        shape = 2.4 * x - x * x
    else:
        shape = 24.0 * (x**3 - 3.0 * x * x + 12.0 - (3.0 * x * x + 12.0 * x + 12.0) * math.exp(-x)) / x**4
    # The slow part of 1/f flicker, which a law of one time constant lacks, leaves the slope's variance at 1/T².
    slow = min(1.0, (noise.spread - 1.0) / _ONE_OVER_F) * max(0.0, x / _SLOW_FROM - 1.0)
    return math.sqrt(white + (1.0 + slow) * noise.flicker_c * noise.flicker_c * shape / (span_s * span_s))
