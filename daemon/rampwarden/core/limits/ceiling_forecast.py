"""Looking ahead: at this ramp the ceiling will be passed.

A statement of statistics, with lead time. Knows nothing of schedules and alarms.
"""

import math

from msgspec import Struct

from rampwarden.core.model import Noise

# The constant-velocity filter's settings. Measured, no other source.
_HORIZON_S = 60.0
"""s, > 0. How far ahead the temperature is foretold."""
_WANDER = 1e-6
"""(°C/s)²/s, > 0. How fast the ramp's variance grows of itself: ten times more is nervous at 100 °C/h, ten times
less is minutes late after a turn of the gas."""
_RELATIVE_WANDER = 1e-4
"""1/s, >= 0. The same as a fraction of the ramp's own square: who climbs fast changes fast."""
_DEVIATIONS = 2.0
"""Standard errors by which the ramp must be above nothing: who holds near the ceiling is not on the way to it."""
_KEEP = 1.3
"""> 1. A standing caution stays up to so many horizons ahead, so that it does not flutter."""


class CeilingOutlook(Struct, frozen=True, gc=False):
    """Whether the ceiling will be passed within the horizon, the ramp (°C/s) and the seconds until then."""

    present: bool
    c_per_s: float
    reach_in_s: float


class CeilingForecast:
    """Foretells when `ceiling_c` will be passed: a constant-velocity filter with the flicker modelled beside it.

    A Kalman filter of level, ramp and flicker. It extrapolates the ramp and no acceleration, which would make slow
    creeps worse. Its gain never tests the reading (that is the gate's work), so it cannot lock itself out.
    """

    def __init__(self, ceiling_c: float) -> None:
        self.ceiling_c = ceiling_c
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
        q = (_WANDER + _RELATIVE_WANDER * self._slope * self._slope) * dt
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
        left_c = self.ceiling_c - level_c
        if left_c <= 0.0:
            reach_in_s = 0.0
        elif slope > 1e-9:
            reach_in_s = left_c / slope
        else:
            reach_in_s = math.inf
        horizon_s = _HORIZON_S * (_KEEP if self._present else 1.0)
        sure = slope > (0.0 if self._present else _DEVIATIONS * math.sqrt(max(0.0, self._cov[3])))
        self._present = reach_in_s <= horizon_s and sure
        return CeilingOutlook(self._present, slope, reach_in_s)
