"""Looking ahead: the ramp lies beyond its limit, so the limit may be over before its window is.

A statement of statistics, made before the budget is broken, and never to be confused with the budget itself. It says
what is so: a ramp with its interval, and only where all of the interval lies beyond the limit. A ramp at or near the
limit is no caution, however long it lasts; nothing is said of when, since a hand at the valve decides that.

A bank of slopes, each the mean of the last readings of a span less that of its first ones, over spans from the time
in which a ramp at the limit climbs a degree upward. Each is an average of true slopes with weights that are never
negative and end with the span: no corner can push it past the steepest slope in it, and nothing older is remembered.
Short spans see a steep ramp soon, long ones a slight excess at last. Thresholds are standard errors from the heat's own
noise.

Knows nothing of schedules and alarms.
"""

import math
from typing import NamedTuple

from msgspec import Struct

from rampwarden.core.limits.course_integral import CourseIntegral
from rampwarden.core.limits.dips import DipWatch
from rampwarden.core.model import Noise
from rampwarden.core.noise_formulas import rise_error_c, wider

# How the bank is laid out and how sure it must be. Measured by the ramp benchmark, no other source.
_SHORTEST_C = 0.6
"""°C, > 0. The youngest ramp that is looked for has lasted for the time in which one at the limit climbs so much."""
_AGES = 19
"""Ages of a ramp that are looked for, >= 1; each asks for one span."""
_STEP = 1.22
"""Ratio of one age to the one before, > 1."""
_SHAPES = (
    (0.34, 0.34, 0.0),
    (0.1, 0.1, 0.0),
    (0.27, 0.7, 0.75),
    (0.06, 2.0, 0.75),
    (0.34, 1.4, 0.75),
    (0.06, 1.0, 0.75),
    (0.1, 2.0, 1.0),
)
"""Shares of the age that are averaged at the near and the far end, and the share of the far end from before the ramp.
A level long held is known better than the present one: so the far end may reach back before a steep ramp, which loses
little by what was slower. Short ends serve where flicker rules, long ones where white noise does."""
_LONGEST_C = 26.0
"""°C, > 0. In the longest span a ramp at the limit climbs so much. Longer ones would trust a law of the noise beyond
what any block of it shows."""
_BEFORE = 0.8
"""The ramp that a careful operator held before, as a share of the limit: for the choice of shapes alone."""
_CELLS = 12.0
"""Points of the course's integral in the youngest ramp, > 0."""
_SHORTEST_CELL_S = 0.25
"""s, > 0. More points than that tell nothing of a board that reads once a second."""
_FALSE_EVERY_S = 800_000.0
"""s, > 0. How often one span may call a ramp of 0.95 times the limit beyond it; all together do at most twice a day."""
_NEAR = 0.95
"""Share of the limit, 0 … 1, at which that is so."""
_SAME = 0.02
"""Share by which a noise must have changed before errors are worked out anew, ..."""
_SAME_SHAPES = 0.1
"""... and by which before shapes are chosen anew: near its best a choice changes little."""
_SETTLED_S = 3600.0
"""s. From then on a noise is doubted no less for being older."""
_KEPT_BY = 0.4
"""Share of what it took to speak up, by which the caution is kept."""
_DENIED_BY = 2.0
"""Standard errors by which a shorter span must lie below the limit to take the caution back."""
_YOUNG = 0.1
"""Share by which errors are widened while the noise is hardly known. A caution too soon costs less than an alarm: a
fifth of the doubt that those are under, or the first minutes of a heat had none."""
_INTERVAL = 3.3
"""Standard errors, at least, by which a slope must exceed the limit."""
_UNREAD = 4.5
"""Standard errors that a line over nothing read may be off by: as many as the shortest span asks for. Its slope is a
mean of true slopes like any other, but rests on the one reading at either end: its mean stands off by as much as that
of the two, however long it is."""
_DIP_S = 120.0
"""s, >= 0. What regains within this time the temperature it had has not climbed (a lid opened and closed)."""
_PROBE_LAG_S = 20.0
"""s, >= 0. After a corner the probe still shows the ramp before it for its own lag."""


class _Shape(Struct, frozen=True, gc=False):
    """Points averaged at the near and the far end of a span, its points; the same in s, and how far the ends are apart.

    `before` is the weight that the slope before the ramp has in the span's, `sure` the standard errors that one look
    of many must exceed.
    """

    near: int
    far: int
    span: int
    near_s: float
    far_s: float
    span_s: float
    apart_s: float
    before: float
    sure: float


class _Member(NamedTuple):
    """A shape in use: its points, °C/s for each °C s that its ends hold, and what its slope is measured by, °C/s.

    That is how far beyond the limit it must lie (`sure`), and below what it denies longer spans.
    """

    near: int
    far: int
    span: int
    by_near: float
    by_far: float
    sure: float
    denies_below: float


def _shapes(age: int, most: int, cell_s: float) -> list[_Shape]:
    """Give the shapes for a ramp of so many points' age, each `cell_s` long, that need no more than `most` points."""
    shapes = []
    for near_share, far_share, early in _SHAPES:
        near, far = max(1, round(near_share * age)), max(1, round(far_share * age))
        early_points = round(early * far)
        span = age + early_points
        if near + far <= span <= most:
            apart = span - 0.5 * (near + far)
            before = early_points * early_points / (2.0 * far * apart)
            span_s = span * cell_s
            sure = math.sqrt(2.0 * math.log(max(_FALSE_EVERY_S / span_s, 2.0)))
            shapes.append(_Shape(near, far, span, near * cell_s, far * cell_s, span_s, apart * cell_s, before, sure))
    return shapes


def _first(choice: tuple[float, _Shape, float]) -> float:
    return choice[0]


def _alike(noise: Noise, other: Noise, share: float) -> bool:
    """Whether errors by one are errors by the other, within a share; the colour must be the same."""
    off = max(
        abs(noise.white_c - other.white_c) / max(other.white_c, 1e-9),
        abs(noise.flicker_c - other.flicker_c) / max(other.flicker_c, other.white_c),
        abs(noise.spread - other.spread),
        abs(noise.interval_s - other.interval_s) / other.interval_s,
    )
    settled = noise.learnt_s > _SETTLED_S or noise.learnt_s < (1.0 + share) * other.learnt_s
    return off < share and settled and noise.flicker_s == other.flicker_s


def _scatter(shape: _Shape, noise: Noise) -> float:
    """Give the standard error of a shape's slope in this noise, °C/s."""
    error_c = rise_error_c(noise, shape.near_s, shape.far_s, shape.span_s)
    return wider(noise, math.sqrt(shape.near_s * shape.span_s), _YOUNG) * error_c / shape.apart_s


class Forecast(Struct, frozen=True, gc=False):
    """Whether the ramp is beyond its limit, how steep it is, and how far that may be off, °C/s.

    The interval is what the slope had to exceed the limit by. It is wider than one look asks for, since many spans look
    at all times and the one that speaks has caught the noise at its highest. Without a caution the slope is that of the
    longest span that is known.
    """

    present: bool
    c_per_s: float
    interval_c_per_s: float


class RampForecast:
    """The statistical caution for one limit: `climb_c` °C within any `window_s` seconds."""

    def __init__(self, climb_c: float, window_s: float) -> None:
        self._limit = climb_c / window_s
        youngest_s = _SHORTEST_C / self._limit
        cell_s = max(youngest_s / _CELLS, _SHORTEST_CELL_S)
        most = round(_LONGEST_C / self._limit / cell_s)
        ages = sorted({max(3, round(youngest_s * _STEP**k / cell_s)) for k in range(_AGES)})
        self._ages = [shapes for shapes in (_shapes(age, most, cell_s) for age in ages) if shapes]
        self._course = CourseIntegral(cell_s, most + 1)
        self._dip = DipWatch(_DIP_S)
        self.start(0.0)

    def start(self, time_s: float, ramp_c_per_s: float = 0.0) -> None:
        """Forget what came before `time_s`; `ramp_c_per_s` is the slope just before, °C/s.

        A ramp beyond this limit is still shown by the probe for its lag: nothing is looked at until that has faded.
        """
        fading = max(1.0, ramp_c_per_s / (0.2 * self._limit))
        self._settled_s = time_s + _PROBE_LAG_S * math.log(fading)
        self._begun = False
        self._noise: Noise | None = None
        self._chosen_by: Noise | None = None
        self._judged_by: Noise | None = None
        self._told: Forecast | None = None
        self._dip.start()

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> Forecast | None:
        """Add a believed temperature (°C) at `time_s` (s, rising); None while too little is known."""
        if time_s < self._settled_s:
            return None
        if noise is not self._noise:
            self._note(noise)
        dip, course = self._dip, self._course
        in_dip = dip.open
        if dip.feed(time_s, temp_c, noise):
            if not in_dip and self._told is not None:
                self._told = Forecast(False, self._told.c_per_s, self._told.interval_c_per_s)
        elif not self._begun:
            self._begun = True
            course.start(time_s, temp_c)
        elif in_dip:
            course.bridge(dip.from_s, time_s, temp_c)
        elif course.feed(time_s, temp_c):
            self._judge()
        return self._told

    def _note(self, noise: Noise) -> None:
        self._noise = noise
        self._course.set_pace(noise.interval_s)
        self._unread_c = _UNREAD * math.hypot(noise.white_c, noise.flicker_c) / math.sqrt(2.0)
        if self._chosen_by is None or not _alike(noise, self._chosen_by, _SAME_SHAPES):
            self._chosen_by = self._judged_by = noise
            chosen = [min([self._told_from(shape, noise) for shape in shapes], key=_first) for shapes in self._ages]
            self._chosen = [shape for _, shape, _ in chosen]
            self._bank = [self._member(shape, scatter) for _, shape, scatter in chosen]
        elif self._judged_by is None or not _alike(noise, self._judged_by, _SAME):
            self._judged_by = noise
            self._bank = [self._member(shape, _scatter(shape, noise)) for shape in self._chosen]

    def _told_from(self, shape: _Shape, noise: Noise) -> tuple[float, _Shape, float]:
        """Give the least ramp of its age that a shape tells in this noise, °C/s, the shape, and its slope's scatter."""
        limit, scatter = self._limit, _scatter(shape, noise)
        told_from = limit + self._sure(shape, scatter) - _BEFORE * limit * shape.before
        return told_from / (1.0 - shape.before), shape, scatter

    def _sure(self, shape: _Shape, scatter: float) -> float:
        return max(shape.sure * scatter - (1.0 - _NEAR) * self._limit, _INTERVAL * scatter)

    def _member(self, shape: _Shape, scatter: float) -> _Member:
        """Give what judges a shape's slope that scatters by so much, °C/s."""
        by_near, by_far = 1.0 / (shape.near_s * shape.apart_s), 1.0 / (shape.far_s * shape.apart_s)
        sure = self._sure(shape, scatter)
        return _Member(shape.near, shape.far, shape.span, by_near, by_far, sure, self._limit - _DENIED_BY * scatter)

    def _judge(self) -> None:
        course, limit = self._course, self._limit
        sums = course.sums
        known = len(sums) - 1
        was = self._told is not None and self._told.present
        most = _KEPT_BY if was else 1.0
        now = sums[-1]
        all_read = course.all_read
        told = None
        slope = off = unread = 0.0
        for near, far, span, by_near, by_far, sure, denies_below in self._bank:
            if known < span:
                continue
            if not all_read:
                unread = course.unread_s(0, near) * by_near + course.unread_s(span - far, far) * by_far
                unread *= self._unread_c
            slope = (now - sums[-1 - near]) * by_near - (sums[far - span - 1] - sums[-1 - span]) * by_far
            off = sure + unread
            if slope < denies_below - unread:
                break  # whatever a longer span remembers is over
            if slope > limit + most * off:
                most = (slope - limit) / off
                told = Forecast(True, slope, off)
        if told is None and off:
            told = Forecast(False, slope, off)
        self._told = told
