"""The rate limits of one segment: how fast the temperature may climb, or fall while it cools.

Each limit is judged by its budget (broken is a fact) and, while heating, by a forecast (it will be broken). Where a
segment with other limits begins, what was climbed across the corner is judged against the laxer side.
"""

from rampwarden.core.limits.across_corner import CornerWatch, RecentCourse, corner_watches
from rampwarden.core.limits.climb_budget import BudgetState, ClimbBudget
from rampwarden.core.limits.edges import Edge
from rampwarden.core.limits.level_doubt import LevelDoubt
from rampwarden.core.limits.limit_alarms import COOLING_FAST, RAMP_FORECAST, RAMP_HIGH
from rampwarden.core.limits.ramp_forecast import Forecast, RampForecast
from rampwarden.core.model import Finding, Noise
from rampwarden.core.quantities import Rate, format_duration, slope_in_window_unit

_PRESSING_S = 75.0
"""s. A limit that will hold for longer at the present ramp is not pressing: whoever is called is there within a minute.
An oven climbs too fast for some minutes after each turn of its dial and slows down by itself, and who turned it down at
once has done so for nothing. Tuned on the bench of heats with the watch beside."""
_STEPS = 120
"""Points of a line within a limit's window: as many as the bank of means keeps."""


class RateLimits:
    """Judges the rate limits of the segment that begins at `time_s` (s), with a slope of `slope_c_per_s` just before.

    `coming` are the limits of the segment after it, for which the recent course must be known when it begins.
    """

    def __init__(
        self,
        limits: tuple[Rate, ...],
        coming: tuple[Rate, ...],
        time_s: float,
        slope_c_per_s: float = 0.0,
        *,
        falling: bool,
    ) -> None:
        self.limits = limits
        self.falling = falling
        self.worst_c = [0.0] * len(limits)
        """The greatest climb (fall) within each limit's window in the present segment, °C."""
        self._alarm = COOLING_FAST.name if falling else RAMP_HIGH.name
        self._budgets = [ClimbBudget(rate.climb_c, rate.window_s, falling=falling) for rate in limits]
        # A cooling that will soon be too fast is told by nothing but its budget: no forecast is made of a fall.
        self._forecasts = [] if falling else [RampForecast(rate.climb_c, rate.window_s) for rate in limits]
        for budget in self._budgets:
            budget.start(time_s, slope_c_per_s)
        for forecast in self._forecasts:
            forecast.start(time_s, slope_c_per_s)
        # A caution that has become pressing stays so until it is over.
        self._pressing = [False] * len(limits)
        self._corners: list[CornerWatch] = []
        self._noise: Noise | None = None
        self._recent: list[RecentCourse] = []
        self._look_ahead(coming)
        self._temp_c = 0.0
        self._bridged_c = 0.0
        self._states: list[tuple[Rate, BudgetState]] = []
        # Limits whose budget calls itself broken by what was in doubt then: that must not ring once the doubt is over.
        self._hidden = [False] * len(limits)

    def go_on(self, coming: tuple[Rate, ...]) -> None:
        """Go on in another segment of the same limits: what has been climbed under them stays climbed."""
        self.worst_c = [0.0] * len(self.limits)
        self._look_ahead(coming)

    def come_from(self, before: "RateLimits", time_s: float) -> None:
        """Take over what was climbed just before, in a segment of other limits, to judge it across the corner."""
        self._bridged_c = before._bridged_c
        if not self.limits or not before.limits or before._noise is None or before.falling != self.falling:
            return
        ended = list(zip(before.limits, before._budgets, strict=True))
        self._corners = [watch.relax(self.limits, time_s) for watch in before._corners if watch.ends_s > time_s]
        self._corners += corner_watches(ended, self.limits, before._recent, time_s, before._noise, falling=self.falling)

    def resume(self, time_s: float) -> None:
        """Go on after a time when nobody watched: what stood before bounds the climb, and foretells nothing."""
        for forecast in self._forecasts:
            forecast.start(time_s)

    def bridge(self, step_c: float) -> None:
        """Take note that the reading has stepped by so much, °C, and what it is a reading of has not."""
        self._bridged_c += step_c

    def begin_anew(self, time_s: float, spared: float = 0.0) -> None:
        """Forget at `time_s` (s) what has been climbed: it was the probe's own way back to the pot's temperature.

        Of the next climb within each limit's window `spared`, a share of it, is the probe's still.
        """
        for budget in self._budgets:
            budget.start(time_s, spared=spared)
        for forecast in self._forecasts:
            forecast.start(time_s)
        # What the pot itself climbed meanwhile is not known, only that it kept within its limit.
        # The list stays: it is this segment's own.
        self.worst_c[:] = [min(worst_c, rate.climb_c) for worst_c, rate in zip(self.worst_c, self.limits, strict=True)]
        self._corners = []
        self._recent = [RecentCourse(course.window_s) for course in self._recent]

    def begin_along(self, from_s: float, from_c: float, time_s: float, temp_c: float, spared: float) -> None:
        """Judge on as if the temperature had climbed straight from `from_c` (°C) at `from_s` (s) to `temp_c` now.

        So the pot's own climb since it was set down stays climbed, however its probe came to show it. `spared` as in
        `begin_anew`.
        """
        self.begin_anew(time_s)
        noise = self._noise
        if noise is None or time_s <= from_s:
            return
        for rate, budget in zip(self.limits, self._budgets, strict=True):
            budget.start(from_s, spared=spared)
            steps = max(1, round(_STEPS * (time_s - from_s) / rate.window_s))
            for step in range(steps):
                share = step / steps
                along_c = from_c + share * (temp_c - from_c) - self._bridged_c
                budget.feed(from_s + share * (time_s - from_s), along_c, noise)

    def _look_ahead(self, coming: tuple[Rate, ...]) -> None:
        known = {rate.window_s for rate in self.limits}
        windows = sorted({rate.window_s for rate in coming} - known) if self.limits else []
        self._recent = [RecentCourse(window_s) for window_s in windows]

    def feed(
        self, time_s: float, temp_c: float, noise: Noise, found: dict[str, Finding], doubt: LevelDoubt | None = None
    ) -> None:
        """Judge one believed temperature (°C) at `time_s` (s, rising); adds what is found beyond `doubt`."""
        self._temp_c, self._noise = temp_c, noise
        temp_c -= self._bridged_c
        self._states = states = []
        worst_c, left_c = self.worst_c, list[float]()
        for number, budget in enumerate(self._budgets):
            rate, state = self.limits[number], budget.feed(time_s, temp_c, noise)
            left_c.append(state.budget_c - state.climb_c)
            doubt_c = 0.0 if doubt is None else doubt.climb_c(rate.window_s)
            if doubt_c > rate.climb_c:
                self._hidden[number] = state.broken
                continue
            if doubt_c or self._hidden[number]:
                widened = _widened(state, doubt_c)
                self._hidden[number] = state.broken and not widened.broken
                state = widened
            states.append((rate, state))
            worst_c[number] = max(worst_c[number], state.climb_c - doubt_c)
            if state.broken:
                found[self._alarm] = _budget_finding(rate, state)
        if self._corners:
            self._judge_corners(time_s, temp_c, noise, found, doubt)
        for course in self._recent:
            course.feed(time_s, temp_c)
        self._look_out(time_s, temp_c, noise, left_c, found, doubted=doubt is not None)

    def _look_out(
        self,
        time_s: float,
        temp_c: float,
        noise: Noise,
        left_c: list[float],
        found: dict[str, Finding],
        *,
        doubted: bool,
    ) -> None:
        """Judge what is ahead, with how much each limit still allows (°C)."""
        for number, (rate, stage) in enumerate(zip(self.limits, self._forecasts, strict=False)):
            ahead = stage.feed(time_s, temp_c, noise)
            if ahead is None or not ahead.present:
                self._pressing[number] = False
                continue
            self._pressing[number] |= left_c[number] < _PRESSING_S * ahead.c_per_s
            # Broken is broken: a caution about another limit would only take the eye off it.
            if RAMP_HIGH.name not in found and not doubted:
                found[RAMP_FORECAST.name] = _forecast_finding(rate, ahead, milder=not self._pressing[number])

    def _judge_corners(
        self, time_s: float, temp_c: float, noise: Noise, found: dict[str, Finding], doubt: LevelDoubt | None
    ) -> None:
        if any(watch.ends_s <= time_s for watch in self._corners):
            self._corners = [watch for watch in self._corners if watch.ends_s > time_s]
        for watch in self._corners:
            state = watch.feed(time_s, temp_c, noise)
            if doubt is not None:
                doubt_c = doubt.climb_c(watch.rate.window_s)
                if doubt_c > watch.rate.climb_c:
                    continue
                state = _widened(state, doubt_c)
            self._states.append((watch.rate, state))
            if state.broken and self._alarm not in found:
                found[self._alarm] = _budget_finding(watch.rate, state, " across two segments")

    def edges(self) -> list[Edge]:
        """Give the edge each limit puts to the last temperature."""
        sign = -1.0 if self.falling else 1.0
        return [
            Edge(self._alarm, self._temp_c + sign * (state.budget_c - state.climb_c), state.margin_c, not self.falling)
            for _, state in self._states
        ]


def _widened(state: BudgetState, doubt_c: float) -> BudgetState:
    """Give where a climb stands that may be off by so much, ± °C: broken only if it is whatever of that is true.

    Without any doubt left, one that broke in doubt is broken only by what it climbs beyond its margin now.
    """
    over = state.broken and state.climb_c > state.budget_c + (doubt_c or state.margin_c)
    return BudgetState(state.climb_c, state.budget_c, state.margin_c + doubt_c, over, state.blind_s)


def _budget_finding(rate: Rate, state: BudgetState, where: str = "") -> Finding:
    value, unit = slope_in_window_unit(state.climb_c / rate.window_s, rate.window_s)
    limit, _ = slope_in_window_unit(rate.c_per_s, rate.window_s)
    if state.blind_s:
        rule = f"limit {rate.climb_c:g} within {format_duration(rate.window_s)}"
        what = f"{state.climb_c:.0f} °C while nobody watched for {format_duration(state.blind_s)}, {rule}"
        value, _ = slope_in_window_unit(state.climb_c / state.blind_s, rate.window_s)
    else:
        what = f"{state.climb_c:.0f} °C within {format_duration(rate.window_s)}{where}, limit {rate.climb_c:g}"
    return Finding(round(value, 2), round(limit, 2), unit, what)


def _forecast_finding(rate: Rate, forecast: Forecast, *, milder: bool) -> Finding:
    value, unit = slope_in_window_unit(forecast.c_per_s, rate.window_s)
    limit, _ = slope_in_window_unit(rate.c_per_s, rate.window_s)
    off, _ = slope_in_window_unit(forecast.interval_c_per_s, rate.window_s)
    slope = f"{value:.3g} ± {off:.1f}" if value < 100.0 else f"{value:.0f} ± {max(off, 1.0):.0f}"
    what = f"{slope} {unit}, may be over the limit of {limit:.3g}"
    return Finding(round(value, 2), round(limit, 2), unit, what, milder)
