"""A probe that lags: its time constant, estimated where a lid is lifted and shut again.

Then the surroundings change at once, twice, and the reading follows each time as exp(-t/τ). To the readings around a
sudden fall such a pulse is fitted, on top of a straight course: when it began, how long it lasted and τ are searched on
a grid, depth and course follow by least squares. A fall alone proves nothing, since cold metal in the pot looks the
same; only a pulse that beats both a straight course and a fall without a rise is taken for the probe's own.

What averages over a window must have seen at least five time constants in it, or it judges the probe and not the heat.
"""

import math
from collections import deque

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt, ReportMeaning
from rampwarden.core.diagnosis.pulse_fit import fitted_pulse
from rampwarden.core.model import Finding, Priority, Trend
from rampwarden.core.quantities import format_duration
from rampwarden.core.short_orders import ShortOrder

SENSOR_LAGGING = AlarmEntry(
    name="sensor-lagging",
    condition="the probe's time constant is more than a fifth of the fastest window in force",
    priority=Priority.LOW,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="it is found at one moment of a heat, so no delay would help",
    why="a fast ramp is seen late and too small",
    action="stay well below the limit; use a thinner probe or tube next time",
    short_order=ShortOrder.KEEP_BELOW,
    time_to_act="this heat",
    doubts=ReadingDoubt.LATE,
    is_opinion=True,
    report=ReportMeaning.READING_IN_DOUBT,
)

# When a fall is looked into, and when its fit is believed. Common practice, no source.
_FALL_C = 2.0
"""°C over two buckets, beside the ramp that was, from which on a fall is looked into."""
_DEVIATIONS = 3.0
"""Standard deviations of the noise that it must exceed besides."""
_BEFORE = 8
"""Buckets before the fall that belong to the fit."""
_AFTER = 40
"""Buckets after it, 200 s."""
_LONGEST = 24
"""Buckets that a lid may be up, two minutes."""
_DEPTH_C = 8.0
"""°C that the pulse must be deep, besides six deviations: less could be flicker."""
_EXPLAINED = 0.85
"""Share of what a straight course leaves that the pulse must explain."""
_OVER_FALL = 0.5
"""Share of what a fall without a rise leaves that the pulse may leave."""
_SAME_FALL_S = 30.0
"""s between a fall as it is seen here and a lid as it was told, for both to be the same."""
_UNTOLD = 3.0
"""Times as deep a pulse must be for which no lid was told."""
_SLOWEST_S = 110.0
"""s. What follows more slowly than any tube is the pot itself, unless a lid was told."""
_WINDOWS = 5.0
"""Time constants a window must hold: common practice, and 1 % of a step is left then."""


NO_LID = (-math.inf, -math.inf)
"""No lid was lifted, and nothing else explains anything."""


class LagWatch:
    """Fits the pulse of each lid; `lag_s` is the last time constant that was found."""

    def __init__(self) -> None:
        self._course: deque[tuple[float, float]] = deque(maxlen=_BEFORE)
        self._pulse: list[tuple[float, float]] = []
        self._error_c = 0.0
        self.lag_s: float | None = None

    def feed(
        self, trend: Trend, window_s: float | None, lids: tuple[float, float], *, in_place: bool
    ) -> Finding | None:
        """Judge the trend; `window_s` is the fastest averaging window in force, if any.

        `in_place` is false while the pot itself is moved: its own steps are not the probe's. `lids`: since when (s) a
        lid was lifted last, and when something else last explained the course. Only a lid shows the probe's lag.
        """
        point = (trend.time_s, trend.temp_c)
        if trend.jump_c is None or not in_place:
            self._pulse.clear()
            self._course.clear()
        elif self._pulse:
            self._pulse.append(point)
            if len(self._pulse) >= _BEFORE + _AFTER and lids[1] >= self._pulse[_BEFORE][0]:
                self._pulse.clear()
            elif len(self._pulse) >= _BEFORE + _AFTER:
                is_lid = abs(lids[0] - self._pulse[_BEFORE][0]) <= _SAME_FALL_S
                self._finish(trend.spacing_s, is_lid=is_lid)
        else:
            self._error_c = trend.jump_error_c
            beside_c = trend.jump_c - 2.0 * (trend.before_c_per_s or 0.0) * trend.spacing_s
            if beside_c < -_FALL_C - _DEVIATIONS * self._error_c and len(self._course) == _BEFORE:
                self._pulse = [*self._course, point]
        self._course.append(point)
        return self._judge(window_s)

    def _finish(self, spacing_s: float, *, is_lid: bool) -> None:
        """Fit the pulse that has passed, if it was a lid's."""
        course, self._pulse = self._pulse, []
        fell_s = course[_BEFORE][0]
        begins_s = [fell_s - spacing_s * steps for steps in (0.5, 1.0, 1.5, 2.0, 3.0)]
        lasting_s = [spacing_s * steps for steps in range(3, _LONGEST + 1)]
        fall = fitted_pulse(course, begins_s, [math.inf])
        pulse = fitted_pulse(course, begins_s, lasting_s)
        # A slow probe shows a lid so slowly that none is told: then the pulse must speak for itself.
        deep = pulse.depth_c > (1.0 if is_lid else _UNTOLD) * (_DEPTH_C + 6.0 * self._error_c)
        if not is_lid and pulse.tau_s > _SLOWEST_S:
            return
        explains = pulse.left_c2 < min((1.0 - _EXPLAINED) * pulse.line_c2, _OVER_FALL * fall.left_c2)
        if deep and explains:
            # The pot cools under an open lid too and comes back slowly: what is told is the least that explains it.
            self.lag_s = pulse.least_s

    def _judge(self, window_s: float | None) -> Finding | None:
        lag_s = self.lag_s
        if lag_s is None or window_s is None or lag_s <= window_s / _WINDOWS:
            return None
        window = format_duration(window_s)
        what = (
            f"the reading takes {lag_s:.0f} s and more to follow a lifted lid, the limit's window of {window} needs "
            f"{window_s / _WINDOWS:.0f}: fast ramps are seen late and too small; doubt the probe's tube and place"
        )
        return Finding(round(lag_s, 1), round(window_s / _WINDOWS, 1), "s", what)
