"""Simple ways to see a ramp that is too fast, to measure the real one against: raw readings, the limit as threshold."""

from collections import deque
from collections.abc import Callable

from benchmarks.ramp_heats import Limit
from rampwarden.core.limits.slope_fit import SlopeFit
from rampwarden.core.model import Noise

_ANY_NOISE = Noise(0.1, 0.1, 10.0, 1.0)  # the slope does not depend on it


class TwoPoint:
    """The newest reading less the one a window ago."""

    def __init__(self, limit: Limit) -> None:
        self._limit = limit
        self._readings: deque[tuple[float, float]] = deque()

    def feed(self, time_s: float, temp_c: float) -> bool:
        """Whether the slope is above the limit."""
        readings = self._readings
        readings.append((time_s, temp_c))
        while readings[0][0] < time_s - self._limit.window_s:
            readings.popleft()
        first_s, first_c = readings[0]
        span_s = time_s - first_s
        return span_s > 0.9 * self._limit.window_s and temp_c - first_c > self._limit.c_per_s * span_s


class WeightedDifference:
    """Differences of neighbouring readings, exponentially averaged over a quarter of the window."""

    def __init__(self, limit: Limit) -> None:
        self._limit = limit
        self._tau_s = 0.25 * limit.window_s
        self._last: tuple[float, float] | None = None
        self._slope = 0.0
        self._age_s = 0.0

    def feed(self, time_s: float, temp_c: float) -> bool:
        """Whether the slope is above the limit."""
        if self._last is not None:
            gap_s = time_s - self._last[0]
            gain = gap_s / (self._tau_s + gap_s)
            self._slope += gain * ((temp_c - self._last[1]) / gap_s - self._slope)
            self._age_s += gap_s
        self._last = (time_s, temp_c)
        return self._age_s > self._limit.window_s and self._slope > self._limit.c_per_s


class PlainFit:
    """Least squares over the window."""

    def __init__(self, limit: Limit) -> None:
        self._limit = limit
        self._fit = SlopeFit(limit.window_s)

    def feed(self, time_s: float, temp_c: float) -> bool:
        """Whether the slope is above the limit."""
        ramp = self._fit.feed(time_s, temp_c, _ANY_NOISE)
        return ramp is not None and ramp.span_s > 0.9 * self._limit.window_s and ramp.c_per_s > self._limit.c_per_s


Naive = TwoPoint | WeightedDifference | PlainFit
METHODS: dict[str, Callable[[Limit], Naive]] = {
    "two-point difference": TwoPoint,
    "weighted difference": WeightedDifference,
    "least squares": PlainFit,
}
