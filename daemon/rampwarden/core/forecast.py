"""Looking ahead: at this ramp the budget will break, and the ceiling will be passed.

Both are statements of statistics, made before anything has happened, and never to be confused with the budget itself.

Ramp. The nominal ramp is taken off the readings; what is left may fall or stand still, but a ramp beyond the nominal
makes it rise. A bank of differences of two exponential averages, at geometrically spaced time scales, looks for a rise:
short ones see a steep rise soon, long ones a slight one at last. Each such difference is an average of the slope with
weights that are never negative, so no corner between segments can make it overshoot: whatever the programme does within
the nominal ramp, the expected rise is at most zero. Thresholds are standard errors from the heat's own noise.

Knows nothing of schedules and alarms.
"""

import math
from collections import deque
from dataclasses import dataclass

from msgspec import Struct

from rampwarden.core.model import Noise

_DAY_S = 86400.0


@dataclass(frozen=True, slots=True)
class ForecastParameters:
    """How the bank is laid out and how sure it must be. Common practice, no source, but where said."""

    nominal: float = 0.8
    """The ramp a careful operator holds, as a fraction of the limit; at this ramp the bank must be silent."""
    shortest_c: float = 0.6
    """°C of climb at the limit in which the shortest average ages."""
    scales: int = 8
    """Scales in the bank."""
    step: float = 1.5
    """Ratio of one scale to the next."""
    apart: int = 3
    """Steps between the fast and the slow average of a scale."""
    false_every_s: float = _DAY_S
    """s. One false caution in this time is the design."""
    probe_lag_s: float = 10.0
    """s. After a corner the probe still shows the ramp before it for its own lag."""


class Forecast(Struct, frozen=True, gc=False):
    """Whether the ramp is beyond its limit, how steep it is (°C/s) and in how many seconds the budget will break."""

    present: bool
    c_per_s: float
    break_in_s: float


class RampForecast:
    """The statistical caution for one limit: `climb_c` °C within any `window_s` seconds."""

    def __init__(self, climb_c: float, window_s: float, parameters: ForecastParameters = ForecastParameters()) -> None:
        p = self._p = parameters
        self._climb_c = climb_c
        self._window_s = window_s
        self._limit = climb_c / window_s
        self._nominal = p.nominal * self._limit
        count = p.scales + p.apart
        self._taus = [p.shortest_c / self._limit * p.step**k for k in range(count)]
        self._sure = [math.sqrt(2.0 * math.log(4.0 * p.false_every_s / max(tau, 1.0))) for tau in self._taus[p.apart :]]
        self.start(0.0)

    def start(self, time_s: float, ramp_c_per_s: float = 0.0) -> None:
        """Forget what came before `time_s`; `ramp_c_per_s` is the slope of the segment before, °C/s.

        A ramp beyond this limit is still shown by the probe for its lag: nothing is looked at until that has faded.
        """
        fading = max(1.0, ramp_c_per_s / (0.2 * self._limit))
        self._settled_s = time_s + self._p.probe_lag_s * math.log(fading)
        self._count = 0
        self._last_s = self._anchor_s = time_s
        self._anchor_c = 0.0
        self._levels = [0.0] * len(self._taus)
        self._age_s = 0.0
        self._noise: Noise | None = None
        self._thresholds: list[float] = []
        self._present = False
        self._blocks: deque[tuple[float, float]] = deque()

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> Forecast | None:
        """Add a believed temperature (°C) at `time_s` (s, rising); None while too little is known."""
        if time_s < self._settled_s:
            return None
        self._count += 1
        if self._count == 1:
            self._anchor_s = self._last_s = time_s
            self._anchor_c = temp_c
            self._blocks.append((time_s, temp_c))
            return None
        step_s = time_s - self._last_s
        self._last_s = time_s
        step_s = min(step_s, 3.0 * noise.interval_s)
        self._age_s += step_s
        rise_c = temp_c - self._anchor_c - self._nominal * (time_s - self._anchor_s)
        if noise is not self._noise:
            self._set_thresholds(noise)
        floor = 1.0 / self._count
        levels = self._levels
        for k, tau in enumerate(self._taus):
            gain = step_s / (tau + step_s)
            levels[k] += (gain if gain > floor else floor) * (rise_c - levels[k])
        return self._judge(time_s, temp_c)

    def _judge(self, time_s: float, temp_c: float) -> Forecast | None:
        apart = self._p.apart
        levels = self._levels
        taus = self._taus
        if time_s - self._blocks[-1][0] >= self._window_s / 30.0:
            self._blocks.append((time_s, levels[0] + self._nominal * (time_s - self._anchor_s) + self._anchor_c))
            while self._blocks[0][0] < time_s - self._window_s:
                self._blocks.popleft()
        steepest = 0.0
        speaks = False
        share = 0.5 if self._present else 1.0
        for k, threshold in enumerate(self._thresholds):
            if self._age_s < taus[k + apart]:
                break
            rise_c = levels[k] - levels[k + apart]
            excess = rise_c / (taus[k + apart] - taus[k])
            if rise_c > share * threshold and excess > (1.0 - self._p.nominal) * self._limit * share:
                speaks = True
                steepest = max(steepest, excess)
        self._present = speaks
        if not speaks:
            k = self._p.scales // 2
            slope = self._nominal + (levels[k] - levels[k + apart]) / (taus[k + apart] - taus[k])
            return Forecast(False, slope, math.inf)
        slope = self._nominal + steepest
        return Forecast(True, slope, self._break_in_s(time_s, levels[0], slope))

    def _break_in_s(self, time_s: float, level_c: float, slope: float) -> float:
        now_c = level_c + self._nominal * (time_s - self._anchor_s) + self._anchor_c
        soonest = self._climb_c / slope
        for low_s, low_c in self._blocks:
            wait_s = max(0.0, (self._climb_c - (now_c - low_c)) / slope)
            if time_s - low_s + wait_s <= self._window_s and wait_s < soonest:
                soonest = wait_s
        return soonest

    def _set_thresholds(self, noise: Noise) -> None:
        apart = self._p.apart
        self._noise = noise
        self._thresholds = [
            sure * difference_error(noise, self._taus[k], self._taus[k + apart]) for k, sure in enumerate(self._sure)
        ]


def difference_error(noise: Noise, fast_s: float, slow_s: float) -> float:
    """Standard error (°C) of the difference of two exponential averages with time constants `fast_s` and `slow_s`.

    First-order autoregressive flicker and exponential weights integrate in closed form: two averages a and b covary by
    σ² τ (b/(b+τ) + a/(a+τ))/(a+b); white noise of readings Δ apart by σ² Δ/(a+b+Δ).
    """

    def covariance(a: float, b: float) -> float:
        tau = noise.flicker_s
        flicker = noise.flicker_c**2 * tau * (b / (b + tau) + a / (a + tau)) / (a + b)
        return flicker + noise.white_c**2 * noise.interval_s / (a + b + noise.interval_s)

    variance = covariance(fast_s, fast_s) + covariance(slow_s, slow_s) - 2.0 * covariance(fast_s, slow_s)
    return math.sqrt(max(variance, 0.0))


@dataclass(frozen=True, slots=True)
class CeilingParameters:
    """The constant-velocity filter's settings. Common practice, no source."""

    horizon_s: float = 60.0
    """s, > 0. How far ahead the temperature is foretold."""
    wander: float = 1e-6
    """(°C/s)²/s, > 0. How much the ramp changes of itself."""


class CeilingOutlook(Struct, frozen=True, gc=False):
    """Whether the ceiling will be passed within the horizon, the ramp (°C/s) and the seconds until then."""

    present: bool
    c_per_s: float
    reach_in_s: float


class CeilingForecast:
    """Foretells when `ceiling_c` will be passed: a constant-velocity filter with the flicker modelled beside it."""

    def __init__(self, ceiling_c: float, parameters: CeilingParameters = CeilingParameters()) -> None:
        self._p = parameters
        self._ceiling_c = ceiling_c
        self.start(0.0)

    def start(self, time_s: float) -> None:
        """Forget what came before `time_s`."""
        self._count = 0
        self._last_s = time_s
        self._level_c = self._slope = self._flicker_c = 0.0
        self._present = False
        self._cov = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> CeilingOutlook | None:
        """Add a believed temperature (°C) at `time_s` (s, rising); None for the first readings."""
        flicker_c2 = noise.flicker_c * noise.flicker_c
        self._count += 1
        if self._count == 1:
            self._last_s = time_s
            self._level_c = temp_c
            self._slope = self._flicker_c = 0.0
            white_c2 = noise.white_c * noise.white_c
            self._cov = (flicker_c2 + white_c2, 0.0, -flicker_c2, 4.0, 0.0, flicker_c2)
            return None
        dt = time_s - self._last_s
        self._last_s = time_s
        ll, ls, lf, ss, sf, ff = self._cov
        phi = math.exp(-dt / noise.flicker_s)
        q = self._p.wander * dt
        ll += dt * (2.0 * ls + dt * ss) + q * dt * dt / 3.0
        ls += dt * ss + 0.5 * q * dt
        lf = phi * (lf + dt * sf)
        ss += q
        sf *= phi
        ff = phi * phi * ff + (1.0 - phi * phi) * flicker_c2
        level_c = self._level_c + self._slope * dt
        flicker_c = self._flicker_c * phi
        gain_l, gain_s, gain_f = ll + lf, ls + sf, lf + ff
        miss_c2 = gain_l + gain_f + noise.white_c * noise.white_c + 1e-9
        miss_c = temp_c - level_c - flicker_c
        weight = miss_c / miss_c2
        self._level_c = level_c = level_c + gain_l * weight
        self._slope = slope = self._slope + gain_s * weight
        self._flicker_c = flicker_c + gain_f * weight
        self._cov = (
            ll - gain_l * gain_l / miss_c2,
            ls - gain_l * gain_s / miss_c2,
            lf - gain_l * gain_f / miss_c2,
            ss - gain_s * gain_s / miss_c2,
            sf - gain_s * gain_f / miss_c2,
            ff - gain_f * gain_f / miss_c2,
        )
        left_c = self._ceiling_c - level_c
        if left_c <= 0.0:
            reach_in_s = 0.0
        elif slope > 1e-9:
            reach_in_s = left_c / slope
        else:
            reach_in_s = math.inf
        horizon_s = self._p.horizon_s * (1.3 if self._present else 1.0)
        self._present = self._count > 10 and reach_in_s <= horizon_s
        return CeilingOutlook(self._present, slope, reach_in_s)
