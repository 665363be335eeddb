"""Which alarm conditions of the heat are present, by one segment's limits.

A condition here is a fact about now. Whether it has stood long enough to be an alarm is the desk's business; what to do
about it stands in the alarm's entry. A deadband applies only to alarms already raised, so that it never helps to raise
one.
"""

from collections.abc import Collection

from rampwarden.core.limits.ceiling_forecast import CeilingForecast, CeilingOutlook
from rampwarden.core.limits.climb_budget import BudgetState, ClimbBudget
from rampwarden.core.limits.limit_alarms import (
    CEILING_FORECAST,
    COOLING_FAST,
    RAMP_FORECAST,
    RAMP_HIGH,
    RAMP_LOW,
    SOAK_DEVIATION,
    TEMPERATURE_HIGH,
)
from rampwarden.core.limits.ramp_forecast import RampForecast
from rampwarden.core.limits.slope_fit import SlopeFit
from rampwarden.core.model import Finding, Noise, Ramp
from rampwarden.core.quantities import Rate, format_duration, format_slope, slope_in_window_unit
from rampwarden.core.schedule import Schedule, SegmentKind

# The displayed ramp looks back a third of the fastest limit's window: quick enough to steer by, and at 25 °C / 15 min
# still steady within a tenth of the limit. The bounds keep it useful where limits are very short, very long or absent.
_DISPLAY_SHARE = 1 / 3
_DISPLAY_SHORTEST_S = 30.0
_DISPLAY_LONGEST_S = 300.0
_DISPLAY_DEFAULT_S = 120.0

# Of the least rate, what the noise may excuse.
_MOST_DOUBT = 0.3

# A minimum rate is judged once this share of its window has been seen since the segment began.
_ENOUGH_OF_WINDOW = 0.9


class _LimitWatch:
    """One rate limit with the stages that watch it."""

    __slots__ = ("budget", "forecast", "rate")

    def __init__(self, rate: Rate, time_s: float, *, falling: bool) -> None:
        self.rate = rate
        self.budget = ClimbBudget(rate.climb_c, rate.window_s, falling=falling)
        self.budget.start(time_s)
        self.forecast = None if falling else RampForecast(rate.climb_c, rate.window_s)
        if self.forecast is not None:
            self.forecast.start(time_s)


class SegmentConditions:
    """Judges every accepted temperature against one segment's limits."""

    def __init__(self, schedule: Schedule, index: int, time_s: float, before: "SegmentConditions | None") -> None:
        self.index = index
        self._segment = schedule.segments[index]
        self._limits = schedule.limits_in_force(index)
        self._worst_c = [0.0] * len(self._limits)
        self._falling = self._segment.kind is SegmentKind.COOL
        self._watches: list[_LimitWatch]
        if before is not None and before._limits == self._limits and before._falling == self._falling:
            # The same limits go on (a soak keeps its ramp's): so does what has been climbed under them.
            self._watches = before._watches
        else:
            self._watches = [_LimitWatch(rate, time_s, falling=self._falling) for rate in self._limits]
        ceiling_c = self._segment.ceiling_c
        if before is not None and before._segment.ceiling_c == ceiling_c:
            self._ceiling: CeilingForecast | None = before._ceiling
        else:
            self._ceiling = None if ceiling_c is None else CeilingForecast(ceiling_c)
        slowest = self._segment.min_rate
        self._well_inside = False
        self._slowness = None if slowest is None else (slowest, SlopeFit(slowest.window_s))

    @property
    def display_window_s(self) -> float:
        """The window that suits the displayed ramp under these limits, seconds."""
        shortest = min((rate.window_s for rate in self._limits), default=None)
        if shortest is None:
            return _DISPLAY_DEFAULT_S
        return min(max(shortest * _DISPLAY_SHARE, _DISPLAY_SHORTEST_S), _DISPLAY_LONGEST_S)

    @property
    def worst_climbs_c(self) -> tuple[tuple[Rate, float], ...]:
        """Each limit with the greatest climb (a cooling's: fall) within its window in this segment so far, °C."""
        return tuple(zip(self._limits, self._worst_c, strict=True))

    def feed(
        self, time_s: float, temp_c: float, noise: Noise, *, approaching: bool, raised: Collection[str]
    ) -> dict[str, Finding]:
        """Judge one accepted temperature; gives the conditions present, `raised` being the alarms that stand."""
        found: dict[str, Finding] = {}
        for number, watch in enumerate(self._watches):
            state = watch.budget.feed(time_s, temp_c, noise)
            self._worst_c[number] = max(self._worst_c[number], state.climb_c)
            if state.broken:
                name = COOLING_FAST.name if self._falling else RAMP_HIGH.name
                found[name] = _budget_finding(watch.rate, state)
            if watch.forecast is not None:
                forecast = watch.forecast.feed(time_s, temp_c, noise)
                if forecast is not None and forecast.present:
                    found[RAMP_FORECAST.name] = _forecast_finding(watch.rate, forecast.c_per_s, forecast.break_in_s)
        if RAMP_HIGH.name in found:
            # Broken is broken: a caution about another limit would only take the eye off it.
            found.pop(RAMP_FORECAST.name, None)
        if self._slowness is not None:
            slowest, fit = self._slowness
            _judge_slowness(slowest, fit.feed(time_s, temp_c, noise), raised, found)
        if self._ceiling is not None:
            outlook = self._ceiling.feed(time_s, temp_c, noise)
            _judge_ceiling(self._ceiling.ceiling_c, temp_c, outlook, raised, found)
        if self._segment.kind is SegmentKind.SOAK:
            self._judge_soak(temp_c, raised, found, approaching=approaching)
        return found

    def _judge_soak(
        self, temp_c: float, raised: Collection[str], found: dict[str, Finding], *, approaching: bool
    ) -> None:
        lowest, highest = self._segment.lowest_c, self._segment.highest_c
        # Never more than a quarter of the band, or a narrow soak could not come back at all.
        deadband = min(SOAK_DEVIATION.deadband, (highest - lowest) / 4)
        low_edge, high_edge = lowest, highest
        if temp_c >= lowest + deadband:
            self._well_inside = True
        if SOAK_DEVIATION.name in raised:
            low_edge, high_edge = lowest + deadband, highest - deadband
        elif not self._well_inside:
            # A slow ramp is still coming in, and flicker about the edge is no way out; a sagging furnace is.
            low_edge = lowest - deadband
        below = temp_c < low_edge and not approaching
        if below or temp_c > high_edge:
            limit = lowest if below else highest
            what = f"{temp_c:.0f} °C, band {lowest:.0f} to {highest:.0f}"
            found[SOAK_DEVIATION.name] = Finding(round(temp_c, 1), limit, "°C", what)


def _judge_slowness(slowest: Rate, ramp: Ramp | None, raised: Collection[str], found: dict[str, Finding]) -> None:
    if ramp is None or ramp.span_s < _ENOUGH_OF_WINDOW * slowest.window_s:
        return
    # Raised only when slow beyond doubt, kept until the rate itself is met again. The doubt has a bound: at well under
    # the rate, a flame taken for rougher than it is must not hide that the heat stands still.
    most = _MOST_DOUBT * slowest.c_per_s
    doubt = 0.0 if RAMP_LOW.name in raised else min(2.0 * ramp.standard_error_c_per_s, most)
    if ramp.c_per_s + doubt < slowest.c_per_s:
        value, unit = slope_in_window_unit(ramp.c_per_s, slowest.window_s)
        limit, _ = slope_in_window_unit(slowest.c_per_s, slowest.window_s)
        window = format_duration(slowest.window_s)
        what = f"{format_slope(ramp.c_per_s, slowest.window_s)} over {window}, at least {limit:.3g} wanted"
        found[RAMP_LOW.name] = Finding(round(value, 2), round(limit, 2), unit, what)


def _judge_ceiling(
    ceiling_c: float,
    temp_c: float,
    outlook: CeilingOutlook | None,
    raised: Collection[str],
    found: dict[str, Finding],
) -> None:
    edge_c = ceiling_c
    if TEMPERATURE_HIGH.name in raised:
        edge_c -= TEMPERATURE_HIGH.deadband
    if temp_c > edge_c:
        what = f"{temp_c:.0f} °C, ceiling {ceiling_c:.0f}"
        found[TEMPERATURE_HIGH.name] = Finding(round(temp_c, 1), ceiling_c, "°C", what)
    elif outlook is not None and outlook.present and temp_c < ceiling_c:
        what = (
            f"{temp_c:.0f} °C and {60 * outlook.c_per_s:+.1f} °C/min: "
            f"ceiling {ceiling_c:.0f} passed in about {format_duration(outlook.reach_in_s)}"
        )
        found[CEILING_FORECAST.name] = Finding(round(temp_c, 1), ceiling_c, "°C", what)


def _budget_finding(rate: Rate, state: BudgetState) -> Finding:
    value, unit = slope_in_window_unit(state.climb_c / rate.window_s, rate.window_s)
    limit, _ = slope_in_window_unit(rate.c_per_s, rate.window_s)
    window = format_duration(rate.window_s)
    what = f"{state.climb_c:.0f} °C within {window}, limit {rate.climb_c:g}"
    return Finding(round(value, 2), round(limit, 2), unit, what)


def _forecast_finding(rate: Rate, c_per_s: float, break_in_s: float) -> Finding:
    value, unit = slope_in_window_unit(c_per_s, rate.window_s)
    limit, _ = slope_in_window_unit(rate.c_per_s, rate.window_s)
    slope = format_slope(c_per_s, rate.window_s)
    what = f"{slope}, limit {limit:.3g}: broken in about {format_duration(break_in_s)} at this ramp"
    return Finding(round(value, 2), round(limit, 2), unit, what)
