"""The displayed ramp: a least-squares slope over a sliding window of true time stamps, with an honest standard error.

Owns the window's readings and their running sums. Knows nothing of limits: whether a ramp is too fast is not decided
here. The error counts flame flicker as what it is, correlated: it does not fall with the number of readings.
"""

import math
from collections import deque

from rampwarden.core.model import Noise, Ramp

_FEWEST_READINGS = 3


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


def slope_standard_error(noise: Noise, span_s: float, spread_s2: float) -> float:
    """Standard error of a least-squares slope, °C/s.

    `span_s` is the window's length, `spread_s2` the sum of squared time stamps about their mean, s². White noise gives
    the textbook σ/√spread (the Cramér–Rao bound); flicker adds the double integral of its autocorrelation
    exp(-|lag|/τ) with the slope's weights 12 (t - T/2)/T³ over the window, in closed form.
    """
    white = noise.white_c * noise.white_c / spread_s2
    if noise.flicker_c <= 0.0 or span_s <= 0.0:
        return math.sqrt(white)
    x = span_s / noise.flicker_s
    if x < 0.1:  # the closed form loses its digits; its series does not
        shape = 2.4 * x - x * x
    else:
        shape = 24.0 * (x**3 - 3.0 * x * x + 12.0 - (3.0 * x * x + 12.0 * x + 12.0) * math.exp(-x)) / x**4
    return math.sqrt(white + noise.flicker_c * noise.flicker_c * shape / (span_s * span_s))
