"""Does the heat go the way the segment wants? It falls where it should climb, or it does not fall where it should cool.

An oven that trips says nothing, and gas left on after the soak says nothing either: both are seen in the temperature
alone, and told as facts, without a cause. A lid, a charge and a thermostat's own swing fall too, but they come back
within minutes; so a fall counts only once it has gone on longer than they take, and longer and deeper than any that
this segment has already come back from. A trip and the first swing of a slow thermostat are one thing to a single
probe until then.
"""

import math

from rampwarden.core.limits.level_doubt import LevelDoubt
from rampwarden.core.limits.limit_alarms import NOT_COOLING, NOT_HEATING
from rampwarden.core.model import Finding, Noise
from rampwarden.core.quantities import format_duration

# Lag of the average that is looked at, s: flicker is left out, minutes are not.
_LAG_S = 20.0
# A fall below the highest, or a rise above the lowest, that is more than swing and noise, °C. A heavy pot in an oven
# that tripped falls 4 °C in seven to eleven minutes and 8 in ten to fifteen (own arithmetic, from simulated ovens).
_LEAST_FALL_C = 4.0
_LEAST_RISE_C = 5.0
_DEVIATIONS = 6.0
# How long it must have gone on, s. A lid or a charge is made good sooner; common practice, no source.
_FALLS_FOR_S = 360.0
_RISES_FOR_S = 300.0
# So much more than the deepest and longest fall that this segment came back from.
_BEYOND_SWING = 1.3
# A shut furnace without heat falls more than this within that time, °C and s, while it is still hotter than that.
# Common practice, no source.
_LEAST_COOLING_C = 3.0
_COOLS_WITHIN_S = 600.0
_HOT_C = 300.0
# So long a pot may run after the heat of its furnace when that is turned off, s. Common practice, no source.
_SETTLES_S = 600.0
# The level is compared with that of so many seconds before, to tell whether it is still going.
_STILL_GOING_S = 120.0


class _Level:
    """The believed temperature averaged over some twenty seconds, and what it was two minutes ago."""

    __slots__ = ("_earlier", "last_s", "now_c")

    def __init__(self) -> None:
        self.now_c = 0.0
        self.last_s: float | None = None
        self._earlier: list[tuple[float, float]] = []

    def feed(self, time_s: float, temp_c: float) -> None:
        if self.last_s is None:
            self.now_c = temp_c
        else:
            step_s = time_s - self.last_s
            self.now_c += step_s / (_LAG_S + step_s) * (temp_c - self.now_c)
        self.last_s = time_s
        if not self._earlier or time_s >= self._earlier[-1][0] + _STILL_GOING_S / 4.0:
            self._earlier.append((time_s, self.now_c))
            while len(self._earlier) > 1 and self._earlier[1][0] <= time_s - _STILL_GOING_S:
                del self._earlier[0]

    def gone_c(self) -> float:
        """By how much it has changed over the last two minutes, °C."""
        return self.now_c - self._earlier[0][1]


class Heating:
    """Tells that the temperature falls in a segment that wants heat."""

    def __init__(self) -> None:
        self._level = _Level()
        self._highest_c = -math.inf
        self._highest_s = 0.0
        self._lowest_c = math.inf
        self._swing_c = self._swing_s = 0.0

    def feed(
        self, time_s: float, temp_c: float, noise: Noise, found: dict[str, Finding], doubt: LevelDoubt | None = None
    ) -> None:
        """Judge one believed temperature (°C) at `time_s` (s, rising); adds what is found beyond `doubt`."""
        level = self._level
        level.feed(time_s, temp_c)
        if level.now_c >= self._highest_c:
            self._come_back(time_s)
            self._highest_c = self._lowest_c = level.now_c
            self._highest_s = time_s
            return
        self._lowest_c = min(self._lowest_c, level.now_c)
        fallen_c, lasting_s = self._highest_c - level.now_c, time_s - self._highest_s
        least_c = max(_LEAST_FALL_C, _DEVIATIONS * noise.flicker_c, _BEYOND_SWING * self._swing_c)
        least_c += 0.0 if doubt is None else doubt.climb_c(lasting_s)
        least_s = max(_FALLS_FOR_S, _BEYOND_SWING * self._swing_s)
        if fallen_c >= least_c and lasting_s >= least_s and level.gone_c() < 0.0:
            what = (
                f"{temp_c:.0f} °C, {fallen_c:.0f} below what it was {format_duration(lasting_s)} ago: "
                "it falls where the segment wants heat"
            )
            found[NOT_HEATING.name] = Finding(round(fallen_c, 1), None, "°C", what)

    def _come_back(self, time_s: float) -> None:
        """Remember the fall that has just been made good as this segment's own swing."""
        if self._highest_c > -math.inf and self._highest_c - self._lowest_c > _LEAST_FALL_C / 2.0:
            self._swing_c = max(self._swing_c, self._highest_c - self._lowest_c)
            self._swing_s = max(self._swing_s, time_s - self._highest_s)


class Cooling:
    """Tells that the temperature rises, or stays, in a segment that should cool."""

    def __init__(self) -> None:
        self._level = _Level()
        self._lowest_c = math.inf
        self._lowest_s = 0.0
        self._stood_c = 0.0
        self._stood_s = 0.0
        self._settles_s: float | None = None

    def feed(
        self, time_s: float, temp_c: float, noise: Noise, found: dict[str, Finding], doubt: LevelDoubt | None = None
    ) -> None:
        """Judge one believed temperature (°C) at `time_s` (s, rising); adds what is found beyond `doubt`."""
        level = self._level
        level.feed(time_s, temp_c)
        if self._settles_s is None:
            self._settles_s = time_s + _SETTLES_S
        settling = time_s < self._settles_s
        if settling or level.now_c <= self._lowest_c:
            self._lowest_c, self._lowest_s = level.now_c, time_s
        if settling or self._stood_c - level.now_c >= _LEAST_COOLING_C:
            self._stood_c, self._stood_s = level.now_c, time_s
        risen_c, rising_s, staying_s = level.now_c - self._lowest_c, time_s - self._lowest_s, time_s - self._stood_s
        least_c = max(_LEAST_RISE_C, _DEVIATIONS * noise.flicker_c)
        least_c += 0.0 if doubt is None else doubt.climb_c(rising_s)
        if risen_c >= least_c and rising_s >= _RISES_FOR_S and level.gone_c() > 0.0:
            what = f"{temp_c:.0f} °C, {risen_c:.0f} more than {format_duration(rising_s)} ago: it should cool and rises"
            found[NOT_COOLING.name] = Finding(round(risen_c, 1), None, "°C", what)
        elif staying_s >= _COOLS_WITHIN_S and level.now_c > _HOT_C and doubt is None:
            what = f"{temp_c:.0f} °C and no less for {format_duration(staying_s)}: it should cool and stays"
            found[NOT_COOLING.name] = Finding(round(temp_c, 1), None, "°C", what)
