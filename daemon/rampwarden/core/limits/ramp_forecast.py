"""Looking ahead: at this ramp the budget will break.

A statement of statistics, made before anything has happened, and never to be confused with the budget itself.

The nominal ramp is taken off the readings; what is left may fall or stand still, but a ramp beyond the nominal
makes it rise. A bank of differences of two exponential averages, at geometrically spaced time scales, looks for a rise:
short ones see a steep rise soon, long ones a slight one at last. Each such difference is an average of the slope with
weights that are never negative, so no corner between segments can make it overshoot: whatever the programme does within
the nominal ramp, the expected rise is at most zero. Thresholds are standard errors from the heat's own noise.

Knows nothing of schedules and alarms.
"""

import math
from collections import deque

from msgspec import Struct

from rampwarden.core.limits.dips import DipWatch
from rampwarden.core.model import Noise

_BLOCKS = 30  # levels kept of a window, to tell when the budget will break: 3 % of it is near enough
_POOLS_PER_LAG = 5
_FEWEST_READINGS = 4  # before that no scale can tell a ramp from one odd reading


# How the bank is laid out and how sure it must be. Measured by the ramp benchmark, no other source.
_NOMINAL = 0.8
"""The ramp a careful operator holds, as a fraction of the limit, 0 … 1; at this ramp the bank must be silent."""
_SHORTEST_C = 0.3
"""°C, > 0. The shortest average lags by the time in which a ramp at the limit climbs so much."""
_SCALES = 9
"""Scales in the bank, >= 1."""
_STEP = 1.5
"""Ratio of one scale's lags to those of the one before, > 1."""
_APART = 2
"""Steps between the fast and the slow average of a scale, >= 1."""
_FALSE_EVERY_S = 86400.0
"""s, > 0. At the nominal ramp one false caution in this time is the aim."""
_LOOKS = 4.0
"""Independent looks per lag of the slow average, > 0."""
_CAUTION = 0.1
"""Standard errors added to what independent looks would need, as several scales look at once."""
_PRECISION = 0.1
"""Scales longer than the first that tells a slope to this fraction of the limit do not keep a caution alive."""
_DIP_S = 120.0
"""s, >= 0. What regains within this time the temperature it had has not climbed (a lid opened and closed)."""
_PROBE_LAG_S = 20.0
"""s, >= 0. After a corner the probe still shows the ramp before it for its own lag."""


class Forecast(Struct, frozen=True, gc=False):
    """Whether the ramp is beyond its limit, how steep it is (°C/s) and in how many seconds the budget will break."""

    present: bool
    c_per_s: float
    break_in_s: float


class RampForecast:
    """The statistical caution for one limit: `climb_c` °C within any `window_s` seconds.

    Averages run over readings, not over time: a gap then adds one reading's weight and not more, whatever its length.
    The rise itself is taken on true time stamps, so an uneven pace cannot feign a ramp.
    """

    def __init__(self, climb_c: float, window_s: float) -> None:
        self._climb_c = climb_c
        self._window_s = window_s
        self._limit = climb_c / window_s
        self._nominal = _NOMINAL * self._limit
        self._lags_s = [_SHORTEST_C / self._limit * _STEP**k for k in range(_SCALES + _APART)]
        self._block_s = window_s / _BLOCKS
        self._dip = DipWatch(_DIP_S)
        self._averages: list[float] = []
        self._now_c = self._pool_c = 0.0
        self._pooled = 0
        self.start(0.0)

    def start(self, time_s: float, ramp_c_per_s: float = 0.0) -> None:
        """Forget what came before `time_s`; `ramp_c_per_s` is the slope just before, °C/s.

        A ramp beyond this limit is still shown by the probe for its lag: nothing is looked at until that has faded.
        """
        fading = max(1.0, ramp_c_per_s / (0.2 * self._limit))
        self._settled_s = time_s + _PROBE_LAG_S * math.log(fading)
        self._set_anchor(time_s, 0.0)
        self._count = 0
        self._noise: Noise | None = None
        self._present = False
        self._told: Forecast | None = None
        self._blocks: deque[tuple[float, float]] = deque()
        self._block_end_s = time_s
        self._dip.start()

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> Forecast | None:
        """Add a believed temperature (°C) at `time_s` (s, rising); None while too little is known."""
        if time_s < self._settled_s:
            return None
        if noise is not self._noise:
            self._noise = noise
            self._scales = _Scales(noise, self._lags_s, self._limit)
        in_dip = self._dip.open
        if self._dip.feed(time_s, temp_c, noise):
            if not in_dip:
                self._fall_silent()
            return self._told
        if in_dip and self._dip.regained:
            self._take_up()
        if self._count == 0 and self._pooled == 0:
            self._set_anchor(time_s, temp_c)
        self._pool_c += temp_c - self._anchor_c - self._nominal * (time_s - self._anchor_s)
        self._pooled += 1
        if self._pooled >= self._scales.pool:
            self._take_in(time_s)
        return self._told

    def _take_in(self, time_s: float) -> None:
        """Pass the mean of the pooled readings to the averages, and judge."""
        rise_c = self._pool_c / self._pooled
        self._pool_c = 0.0
        self._pooled = 0
        count = self._count = self._count + 1
        now_gain = self._scales.now_gain
        gains = self._scales.gains
        if count < self._scales.young:
            floor = 1.0 / count  # a young average is a plain mean
            gains = [gain if gain > floor else floor for gain in gains]
            now_gain = max(now_gain, floor)
        self._now_c += now_gain * (rise_c - self._now_c)
        self._averages = [level + gain * (rise_c - level) for level, gain in zip(self._averages, gains, strict=True)]
        if time_s >= self._block_end_s:
            self._keep_track(time_s)
        if count >= _FEWEST_READINGS:
            self._judge(time_s)

    def _judge(self, time_s: float) -> None:
        scales = self._scales
        now_c = self._now_c
        fast = self._averages
        slow = fast[_APART:]
        if not self._present:
            for share, fast_c, slow_c, need_c in zip(scales.shares, fast, slow, scales.needs_c, strict=False):
                if share * (now_c - fast_c) + fast_c - slow_c > need_c:
                    break
            else:
                k = scales.precise
                slope = self._nominal + (fast[k] - slow[k]) / (self._lags_s[k + _APART] - self._lags_s[k])
                self._told = Forecast(False, slope, math.inf)
                return
        rises_c = [
            share * (now_c - fast_c) + fast_c - slow_c
            for share, fast_c, slow_c in zip(scales.shares, fast, slow, strict=False)
        ]
        self._present = any(rise_c > keep_c for rise_c, keep_c in zip(rises_c, scales.keeps_c, strict=False))
        if not self._present:
            self._fall_silent()
            return
        slope = scales.slope(rises_c, self._nominal, self._limit)
        self._told = Forecast(True, slope, self._break_in_s(time_s, slope))

    def _fall_silent(self) -> None:
        """Take the caution back and begin anew: the long averages would remember an excess that has been mended."""
        self._present = False
        self._count = self._pooled = 0
        if self._told is not None:
            self._told = Forecast(False, self._told.c_per_s, math.inf)

    def _take_up(self) -> None:
        """Go on after a dip from the level before it: the last degrees back to it are no climb."""
        self._set_anchor(self._dip.from_s, self._dip.from_c)
        self._count = self._scales.young

    def _set_anchor(self, time_s: float, level_c: float) -> None:
        """Measure rises from here on against the nominal ramp through this point; all averages begin there."""
        self._anchor_s = time_s
        self._anchor_c = level_c
        self._now_c = self._pool_c = 0.0
        self._averages = [0.0] * len(self._lags_s)
        self._pooled = 0

    def _break_in_s(self, time_s: float, slope: float) -> float:
        """Seconds until the climb breaks the budget at this slope, over all lows that will still be in the window."""
        now_c = self._level_c(time_s)
        soonest_s = self._climb_c / slope
        for low_s, low_c in self._blocks:
            wait_s = max(0.0, (self._climb_c - (now_c - low_c)) / slope)
            if wait_s < soonest_s and time_s - low_s + wait_s <= self._window_s:
                soonest_s = wait_s
        return soonest_s

    def _level_c(self, time_s: float) -> float:
        return self._anchor_c + self._now_c + self._nominal * (time_s - self._anchor_s)

    def _keep_track(self, time_s: float) -> None:
        """Note the level now and then, for the lows that will still be in the window when the budget breaks."""
        self._block_end_s = time_s + self._block_s
        self._blocks.append((time_s, self._level_c(time_s)))
        while self._blocks[0][0] < time_s - self._window_s:
            self._blocks.popleft()


class _Scales:
    """What the bank needs to know of one noise: gains, thresholds, and how each scale answers to a new ramp.

    Scale k compares a quick blend with a slow average. The blend is mostly the newest readings where flicker rules
    (correlated noise is not averaged away, and the newest reading knows most of the present level) and mostly the fast
    average where white noise does: the best linear weights for a ramp in first-order autoregressive noise have just
    this form.
    """

    __slots__ = (
        "errors_c",
        "gains",
        "keeps_c",
        "needs_c",
        "now_gain",
        "pool",
        "precise",
        "responses",
        "shares",
        "young",
    )

    def __init__(self, noise: Noise, lags_s: list[float], limit: float) -> None:
        # Readings far closer than the shortest lag are pooled; the averages lose nothing by it and cost less.
        self.pool = max(1, int(lags_s[0] / (_POOLS_PER_LAG * noise.interval_s)))
        interval_s = self.pool * noise.interval_s
        white_c = noise.white_c / math.sqrt(self.pool)
        now_s = 0.0
        if noise.flicker_c > 0.0:  # the lag at which white noise no longer tops what flicker does meanwhile
            now_s = min(white_c / noise.flicker_c * math.sqrt(0.5 * interval_s * noise.flicker_s), lags_s[-1])
        self.now_gain = interval_s / (now_s + interval_s)
        self.gains = [interval_s / (lag_s + interval_s) for lag_s in lags_s]
        self.young = 2 + int(1.0 / self.gains[-1])
        pooled = Noise(white_c, noise.flicker_c, noise.flicker_s, interval_s)
        self.shares: list[float] = []
        self.errors_c: list[float] = []
        self.needs_c: list[float] = []
        self.keeps_c: list[float] = []
        self.precise = _SCALES - 1
        for k in range(_SCALES):
            fast_s, slow_s = lags_s[k], lags_s[k + _APART]
            share = 0.0
            if noise.flicker_c > 0.0 and fast_s > now_s:
                share = noise.flicker_s / (noise.flicker_s + fast_s) * (1.0 - now_s / fast_s)
            error_c = rise_error(pooled, share, now_s, fast_s, slow_s)
            answer_c = limit * (slow_s - fast_s + share * (fast_s - now_s))  # a ramp at the limit, at last
            looks = _LOOKS * _FALSE_EVERY_S / max(slow_s, interval_s)
            sure_c = (math.sqrt(2.0 * math.log(max(looks, 2.0))) + _CAUTION) * error_c
            self.shares.append(share)
            self.errors_c.append(error_c)
            self.needs_c.append(max(sure_c, (1.0 - _NOMINAL) * answer_c))
            if k > self.precise:
                continue
            if error_c < _PRECISION * answer_c:
                self.precise = k
                sure_c = 0.0
            self.keeps_c.append(0.5 * max(sure_c, (1.0 - _NOMINAL) * answer_c))
        self.responses = [self._response(now_s, lags_s, age_s) for age_s in (*lags_s[1:], 10.0 * lags_s[-1])]

    def _response(self, now_s: float, lags_s: list[float], age_s: float) -> list[float]:
        """What each scale shows of a unit ramp that began `age_s` ago, s."""

        def lag(a: float) -> float:
            return a * (1.0 - math.exp(-age_s / a)) if a > 0.0 else 0.0

        return [
            lag(lags_s[k + _APART]) - share * lag(now_s) - (1.0 - share) * lag(lags_s[k])
            for k, share in enumerate(self.shares)
        ]

    def slope(self, rises_c: list[float], nominal: float, limit: float) -> float:
        """The ramp, °C/s: of all ramps begun at one of the scales' ages, the one that explains all scales best.

        Less two standard errors where it can bear them: who speaks up as soon as a threshold is passed has caught the
        noise at its highest. It is a ramp beyond its limit that is told of, so never less than the limit.
        """
        gained, slope = 0.0, limit
        for response in self.responses:
            product = norm = 0.0
            for rise_c, error_c, answer_s in zip(rises_c, self.errors_c, response, strict=True):
                if rise_c > 0.0:  # a long scale may still remember the slower ramp before
                    weight = answer_s / (error_c * error_c)
                    product += weight * rise_c
                    norm += weight * answer_s
            if product * product > gained * norm:
                gained = product * product / norm
                slope = nominal + product / norm
                careful = slope - 2.0 / math.sqrt(norm)
                if careful > limit:
                    slope = careful
        return max(slope, limit)


def rise_error(noise: Noise, share: float, now_s: float, fast_s: float, slow_s: float) -> float:
    """Standard error (°C) of a rise: `share` of a very quick and the rest of a fast average, less a slow one.

    First-order autoregressive flicker and exponential weights integrate in closed form: two averages of lags a and b
    covary by σ² τ (a/(a+τ) + b/(b+τ))/(a+b); white noise of readings Δ apart by σ² Δ/(a+b+Δ).
    """
    tau = noise.flicker_s
    flicker_c2 = noise.flicker_c**2
    white_c2 = noise.white_c**2
    interval_s = noise.interval_s

    def covariance(a: float, b: float) -> float:
        if a + b <= 0.0:
            return flicker_c2 + white_c2
        flicker = flicker_c2 * tau * (a / (a + tau) + b / (b + tau)) / (a + b)
        return flicker + white_c2 * interval_s / (a + b + interval_s)

    parts = ((share, now_s), (1.0 - share, fast_s), (-1.0, slow_s))
    return math.sqrt(max(sum(p * q * covariance(a, b) for p, a in parts for q, b in parts), 0.0))
