"""A sudden step seen through a probe's lag, fitted beside the course it left; and the other accounts of the same.

The course before is a parabola through the minute before the step and stays as it was; what the reading is beside it is
put to each account by least squares, at a few lags and onsets. Accounts: the reading stepped and the pot drifts (a lid
that stands open, a probe that was moved); cold metal (a lid open for a moment, and a pot that gives its heat away over
a minute). The figures of merit are nats, with a hundredth of the step as model error beside the noise: else low noise
makes any misfit decisive. Coefficients are own arithmetic.
"""

import math
from collections.abc import Sequence

from msgspec import Struct

LAGS_S = (3.0, 6.0, 11.0, 19.0)
ONSETS_S = (-7.5, -5.0, -2.5, 0.0)
"""Before the middle of the bucket that left the course."""
_MODEL = 0.012
_HALF_S = 2.5
_DRIFT_S = 60.0
_BENDS_S = (4.0, 15.0, 50.0, 150.0)
_OPEN_S = (9.0, 14.0, 19.0, 24.0, 29.0, 34.0)
_MIXING_S = (28.0, 40.0, 58.0, 85.0)
_RIDGE = 1e-4
_BEND_RIDGE = 0.05
_AMBIENT_C = 20.0


class Course2(Struct, frozen=True):
    """The parabola of the course before: level (°C), slope and bend at `time_s`."""

    time_s: float
    level_c: float
    c_per_s: float
    c_per_s2: float

    def at(self, time_s: float) -> float:
        """Give where the course would be, °C; the bend is believed for a minute, then the slope goes on."""
        ahead_s = time_s - self.time_s
        bent_s = ahead_s if ahead_s < 60.0 else 60.0
        slope = self.c_per_s + self.c_per_s2 * bent_s
        return self.level_c + (self.c_per_s + 0.5 * self.c_per_s2 * bent_s) * bent_s + slope * (ahead_s - bent_s)


class Fitted(Struct, frozen=True):
    """A step of `step_c` (°C, signed) at `onset_s` through a lag of `lag_s`; the pot drifts by `c_per_s` beside its
    course; `misfit` is half the sum of squares over the variance.
    """

    step_c: float
    onset_s: float
    lag_s: float
    c_per_s: float
    misfit: float


def course_before(times_s: Sequence[float], temps_c: Sequence[float], at_s: float) -> Course2:
    """Fit a parabola to the buckets before a step, its bend drawn towards none; level and slope at `at_s`."""
    count = len(times_s)
    s1 = s2 = s3 = s4 = y0 = y1 = y2 = 0.0
    base_c = temps_c[-1]
    for time_s, temp_c in zip(times_s, temps_c, strict=True):
        x = (time_s - at_s) / 60.0
        y = temp_c - base_c
        xx = x * x
        s1 += x
        s2 += xx
        s3 += xx * x
        s4 += xx * xx
        y0 += y
        y1 += y * x
        y2 += y * xx
    level, slope, bend = _solve3((float(count), s1, s2, s2, s3, s4 + _BEND_RIDGE), (y0, y1, y2))
    return Course2(at_s, base_c + level, slope / 60.0, 2.0 * bend / 3600.0)


def lagged_step(after_s: float, lag_s: float) -> float:
    """Give the share of a step that a bucket with its middle `after_s` after it shows through a lag."""
    if after_s >= _HALF_S:
        return 1.0 - math.exp(-after_s / lag_s)
    if after_s <= -_HALF_S:
        return 0.0
    seen_s = after_s + _HALF_S
    return (1.0 - math.exp(-0.5 * seen_s / lag_s)) * seen_s / (2.0 * _HALF_S)


def fit_step(times_s: Sequence[float], off_c: Sequence[float], opened_s: float, sigma_c: float) -> Fitted:
    """Fit step and drift to what the buckets were beside the course, the best of every lag and onset."""
    variance_c2 = _variance_c2(off_c, sigma_c)
    best: Fitted | None = None
    for lag_s in LAGS_S:
        for before_s in ONSETS_S:
            onset_s = opened_s + before_s
            steps = [lagged_step(time_s - onset_s, lag_s) for time_s in times_s]
            drifts = [_drift(time_s - onset_s - lag_s) for time_s in times_s]
            step_c, slope, squares = _fit2(steps, drifts, off_c)
            if best is None or squares < best.misfit:
                best = Fitted(step_c, onset_s, lag_s, slope, squares)
    if best is None:
        raise ValueError("no lags")
    return Fitted(best.step_c, best.onset_s, best.lag_s, best.c_per_s, 0.5 * best.misfit / variance_c2)


def turn_misfit(times_s: Sequence[float], off_c: Sequence[float], opened_s: float, sigma_c: float) -> float:
    """Give the misfit, as of `fit_step`, of heat that turned in one moment: the pace bends over and stays bent."""
    least, whole = math.inf, sum(value * value for value in off_c)
    for bends_s in _BENDS_S:
        for before_s in ONSETS_S:
            after_s = [max(time_s - opened_s - before_s, 0.0) for time_s in times_s]
            bent = [x - bends_s * (1.0 - math.exp(-x / bends_s)) for x in after_s]
            along = sum(one * value for one, value in zip(bent, off_c, strict=True))
            least = min(least, whole - along * along / (sum(x * x for x in bent) + _RIDGE))
    return 0.5 * max(least, 0.0) / _variance_c2(off_c, sigma_c)


def charge_odds(times_s: Sequence[float], off_c: Sequence[float], step: Fitted, sigma_c: float) -> float:
    """Give by how many nats cold metal explains the buckets better than the fitted `step` does."""
    variance_c2 = _variance_c2(off_c, sigma_c)
    least = math.inf
    lags_s = (*LAGS_S, 14.5)
    after_s = [time_s - step.onset_s for time_s in times_s]
    drifts = [x / 60.0 if x > 0.0 else 0.0 for x in after_s]
    for lag_s in lags_s:
        opens = [lagged_step(x, lag_s) for x in after_s]
        for mixing_s in _MIXING_S:
            mixes = [1.0 - math.exp(-max(x - 0.7 * lag_s, 0.0) / mixing_s) for x in after_s]
            for open_s in _OPEN_S:
                pulses = [o - lagged_step(x - open_s, lag_s) for o, x in zip(opens, after_s, strict=True)]
                pulse_c, mixed_c, squares = _fit3(pulses, mixes, drifts, off_c)
                if pulse_c < 0.0 and mixed_c < 0.0 and squares < least:
                    least = squares
    return step.misfit - 0.5 * least / variance_c2


def fit_dying_away(times_s: Sequence[float], offs_c: Sequence[float], dies_s: float) -> tuple[float, float, float]:
    """Fit a line and something that dies away within `dies_s` (none of it if that is infinite).

    Gives the line's slope (°C/s), what dies away at the first time (°C, negative if the reading comes from below), and
    the sum of squares left.
    """
    first_s = times_s[0]
    if math.isinf(dies_s):
        ones, line = [1.0] * len(times_s), [time_s / 60.0 for time_s in times_s]
        _, slope, squares = _fit2(ones, line, offs_c)
        return slope / 60.0, 0.0, squares
    line = [time_s / 60.0 for time_s in times_s]
    dying = [math.exp((first_s - time_s) / dies_s) for time_s in times_s]
    mean_c = sum(offs_c) / len(offs_c)
    mean_line, mean_dying = sum(line) / len(line), sum(dying) / len(dying)
    slope, died_c, squares = _fit2(
        [one - mean_line for one in line],
        [one - mean_dying for one in dying],
        [off_c - mean_c for off_c in offs_c],
        ridge=1e-9,
    )
    return slope / 60.0, died_c, squares


def _variance_c2(off_c: Sequence[float], sigma_c: float) -> float:
    span_c = max(off_c) - min(off_c)
    # Flicker goes on from bucket to bucket: half of a bucket's scatter is its neighbour's.
    return 3.0 * (sigma_c * sigma_c + 0.05 + (_MODEL * span_c) ** 2)


def _drift(after_s: float) -> float:
    """Give what a pot that begins to cool has lost: nothing at first, a line later."""
    if after_s <= 0.0:
        return 0.0
    return after_s - _DRIFT_S * (1.0 - math.exp(-after_s / _DRIFT_S))


def _fit2(
    first: Sequence[float], second: Sequence[float], values: Sequence[float], ridge: float = _RIDGE
) -> tuple[float, float, float]:
    """Give both coefficients and the sum of squares left."""
    aa = ab = bb = ay = by = yy = 0.0
    for a, b, y in zip(first, second, values, strict=True):
        aa += a * a
        ab += a * b
        bb += b * b
        ay += a * y
        by += b * y
        yy += y * y
    bb += ridge * len(values)
    aa += ridge
    root = aa * bb - ab * ab
    if root <= 0.0:
        return 0.0, 0.0, yy
    one, two = (ay * bb - by * ab) / root, (by * aa - ay * ab) / root
    return one, two, max(0.0, yy - one * ay - two * by)


def _fit3(
    first: Sequence[float], second: Sequence[float], third: Sequence[float], values: Sequence[float]
) -> tuple[float, float, float]:
    """Give the first two of three coefficients, the third drawn towards none, and the sum of squares left."""
    aa = ab = ac = bb = bc = cc = ay = by = cy = yy = 0.0
    for a, b, c, y in zip(first, second, third, values, strict=True):
        aa += a * a
        ab += a * b
        ac += a * c
        bb += b * b
        bc += b * c
        cc += c * c
        ay += a * y
        by += b * y
        cy += c * y
        yy += y * y
    one, two, three = _solve3((aa + _RIDGE, ab, ac, bb + _RIDGE, bc, cc + 0.5), (ay, by, cy))
    return one, two, max(0.0, yy - one * ay - two * by - three * cy)


def _solve3(matrix: Sequence[float], right: Sequence[float]) -> tuple[float, float, float]:
    """Solve a symmetric system of three, given as its upper triangle by rows."""
    a, b, c, d, e, f = matrix
    x, y, z = right
    # Cofactors of the symmetric matrix.
    ca, cb, cc = d * f - e * e, c * e - b * f, b * e - c * d
    root = a * ca + b * cb + c * cc
    cd, ce, cf = a * f - c * c, b * c - a * e, a * d - b * b
    if root == 0.0:
        return x / a if a else 0.0, 0.0, 0.0
    return (
        (ca * x + cb * y + cc * z) / root,
        (cb * x + cd * y + ce * z) / root,
        (cc * x + ce * y + cf * z) / root,
    )
