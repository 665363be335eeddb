"""The least rate of one segment: graphite burns out of a wall that lingers at red heat."""

from collections.abc import Collection

from rampwarden.core.limits.edges import Edge
from rampwarden.core.limits.level_doubt import LevelDoubt
from rampwarden.core.limits.limit_alarms import RAMP_LOW
from rampwarden.core.limits.slope_fit import SlopeFit
from rampwarden.core.model import Finding, Noise, Ramp
from rampwarden.core.quantities import Rate, format_duration, format_slope, slope_in_window_unit

# Of the least rate, what the noise may excuse.
_MOST_DOUBT = 0.3

# It is judged once this share of its window has been seen since the segment began.
_ENOUGH_OF_WINDOW = 0.9


class LeastRate:
    """Judges the slope over the limit's own window, from the beginning of the segment."""

    def __init__(self, rate: Rate) -> None:
        self._rate = rate
        self._fit = SlopeFit(rate.window_s)
        self._edge: Edge | None = None

    def feed(
        self,
        time_s: float,
        temp_c: float,
        noise: Noise,
        raised: Collection[str],
        found: dict[str, Finding],
        doubt: LevelDoubt | None = None,
    ) -> None:
        """Judge one believed temperature (°C) at `time_s` (s, rising); adds what is found beyond `doubt`."""
        rate, ramp = self._rate, self._fit.feed(time_s, temp_c, noise)
        self._edge = None
        if ramp is None or ramp.span_s < _ENOUGH_OF_WINDOW * rate.window_s:
            return
        doubt_c_per_s = self._doubt(ramp)
        level_c_per_s = 0.0 if doubt is None else doubt.climb_c(rate.window_s) / rate.window_s
        if level_c_per_s > rate.c_per_s:
            return
        doubt_c_per_s += level_c_per_s
        short_c = (rate.c_per_s - ramp.c_per_s) * rate.window_s
        self._edge = Edge(RAMP_LOW.name, temp_c + short_c, doubt_c_per_s * rate.window_s, upper=False)
        # Raised only when slow beyond doubt, kept until the rate itself is met again.
        doubt_c_per_s = level_c_per_s if RAMP_LOW.name in raised else doubt_c_per_s
        if ramp.c_per_s + doubt_c_per_s < rate.c_per_s:
            found[RAMP_LOW.name] = _finding(rate, ramp.c_per_s)

    def resume(self) -> None:
        """Go on after a time when nobody watched: no slope is drawn across it."""
        self._fit.restart()
        self._edge = None

    def _doubt(self, ramp: Ramp) -> float:
        """What may be noise, °C/s, within a bound: a flame taken for rougher than it is must not hide a standstill."""
        return min(2.0 * ramp.standard_error_c_per_s, _MOST_DOUBT * self._rate.c_per_s)

    def edges(self) -> list[Edge]:
        """Give the edge it puts to the last temperature, none while it is not judged yet."""
        return [] if self._edge is None else [self._edge]


def _finding(rate: Rate, c_per_s: float) -> Finding:
    value, unit = slope_in_window_unit(c_per_s, rate.window_s)
    limit, _ = slope_in_window_unit(rate.c_per_s, rate.window_s)
    window = format_duration(rate.window_s)
    what = f"{format_slope(c_per_s, rate.window_s)} over {window}, at least {limit:.3g} wanted"
    return Finding(round(value, 2), round(limit, 2), unit, what)
