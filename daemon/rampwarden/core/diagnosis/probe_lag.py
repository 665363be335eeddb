"""A probe that lags: its time constant, estimated where a lid is lifted and shut again.

Then the surroundings change at once, twice, and the reading follows each time as exp(-t/τ). To the readings around a
sudden fall such a pulse is fitted, on top of a straight course: when it began, how long it lasted and τ are searched on
a grid, depth and course follow by least squares. A fall alone proves nothing, since cold metal in the pot looks the
same; only a pulse that beats both a straight course and a fall without a rise is taken for the probe's own.

What averages over a window must have seen at least five time constants in it, or it judges the probe and not the heat.
"""

import math
from collections import deque
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt, ReportMeaning
from rampwarden.core.model import Finding, Priority, Trend
from rampwarden.core.quantities import format_duration

SENSOR_LAGGING = AlarmEntry(
    name="sensor-lagging",
    condition="the probe's time constant is more than a fifth of the fastest window in force",
    priority=Priority.LOW,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="it is found at one moment of a heat, so no delay would help",
    why="a fast ramp is seen late and too small",
    action="stay well below the limit; use a thinner probe or tube next time",
    time_to_act="this heat",
    doubts=ReadingDoubt.LATE,
    is_opinion=True,
    report=ReportMeaning.READING_IN_DOUBT,
)

_TAUS_S = tuple(4.0 * 2.0 ** (k / 3) for k in range(17))  # 4 s … 160 s: from a bare wire to a thick ceramic tube

Array = NDArray[np.float64]


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
_AS_GOOD = 2.0
"""Times the squares the best fit leaves: a time constant that leaves no more may be the probe's as well."""
_WINDOWS = 5.0
"""Time constants a window must hold: common practice, and 1 % of a step is left then."""


NO_LID = (-math.inf, -math.inf)
"""No lid was lifted, and nothing else explains anything."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """A fitted pulse: time constant (s), depth the reading was heading for (°C), squares left (°C²).

    `least_s` is the smallest time constant that explains the readings nearly as well.
    """

    tau_s: float
    depth_c: float
    left_c2: float
    least_s: float


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
        table = np.array(self._pulse)
        self._pulse = []
        fell_s, time_s, temp_c = table[_BEFORE, 0], table[:, 0], table[:, 1]
        begins_s = fell_s - spacing_s * np.array((0.5, 1.0, 1.5, 2.0, 3.0))
        lasting_s = spacing_s * np.arange(3.0, _LONGEST + 1.0)
        beside_c = _off_line(time_s, temp_c)
        line_c2 = float(beside_c @ beside_c)
        fall = fitted_pulse(time_s, temp_c, begins_s, np.array((math.inf,)))
        pulse = fitted_pulse(time_s, temp_c, begins_s, lasting_s)
        # A slow probe shows a lid so slowly that none is told: then the pulse must speak for itself.
        deep = pulse.depth_c > (1.0 if is_lid else _UNTOLD) * (_DEPTH_C + 6.0 * self._error_c)
        if not is_lid and pulse.tau_s > _SLOWEST_S:
            return
        explains = pulse.left_c2 < min((1.0 - _EXPLAINED) * line_c2, _OVER_FALL * fall.left_c2)
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


def fitted_pulse(time_s: Array, temp_c: Array, begins_s: Array, lasting_s: Array) -> Pulse:
    """Fit a first-order response to a rectangular pulse, on a straight course, to readings (s, °C).

    Beginning, length (infinite: a fall without a rise) and time constant (a third of an octave apart, 4 to 160 s) are
    those of the grid that leave least.
    """
    best = Pulse(0.0, 0.0, math.inf, 0.0)
    least_left_c2 = [math.inf] * len(_TAUS_S)
    beside_c = _off_line(time_s, temp_c)
    total_c2 = float(beside_c @ beside_c)
    for begin_s in begins_s:
        since_s = time_s - begin_s
        for number, tau_s in enumerate(_TAUS_S):
            shapes = _response(since_s, tau_s) - _response(since_s - lasting_s[:, None], tau_s)
            shapes = _off_line(time_s, shapes)
            crosses = shapes @ beside_c
            squares = np.maximum((shapes * shapes).sum(axis=1), 1e-12)
            lefts_c2 = total_c2 - crosses * crosses / squares
            at = int(lefts_c2.argmin())
            least_left_c2[number] = min(least_left_c2[number], float(lefts_c2[at]))
            if lefts_c2[at] < best.left_c2:
                best = Pulse(tau_s, -float(crosses[at] / squares[at]), float(lefts_c2[at]), tau_s)
    as_good = (
        tau_s for tau_s, left_c2 in zip(_TAUS_S, least_left_c2, strict=True) if left_c2 <= _AS_GOOD * best.left_c2
    )
    return replace(best, least_s=next(as_good, best.tau_s))


def _response(since_s: Array, tau_s: float) -> Array:
    """What has followed of a unit step at zero."""
    response: Array = -np.expm1(-np.maximum(since_s, 0.0) / tau_s)
    return response


def _off_line(time_s: Array, values: Array) -> Array:
    """Take the best straight line out of the last axis."""
    beside_s = time_s - time_s.mean()
    slope = (values @ beside_s) / (beside_s @ beside_s)
    off: Array = values - values.mean(axis=-1, keepdims=True) - slope[..., None] * beside_s
    return off
