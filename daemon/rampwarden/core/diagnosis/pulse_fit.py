"""A probe's answer to a lid, fitted: a first-order response to a rectangular pulse, on top of a straight course.

Apart from the watch that calls it, since it is the only place that needs numpy and is needed once a lid.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_TAUS_S = tuple(4.0 * 2.0 ** (k / 3) for k in range(17))  # 4 s … 160 s: from a bare wire to a thick ceramic tube
_AS_GOOD = 2.0
"""Times the squares the best fit leaves: a time constant that leaves no more may be the probe's as well."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """A fitted pulse: time constant (s), depth the reading was heading for (°C), squares left (°C²).

    `line_c2` is what the straight course alone leaves, and `least_s` the smallest time constant that explains the
    readings nearly as well.
    """

    tau_s: float
    depth_c: float
    left_c2: float
    line_c2: float
    least_s: float


def fitted_pulse(course: Sequence[tuple[float, float]], begins_s: Sequence[float], lasts_s: Sequence[float]) -> Pulse:
    """Fit a first-order response to a rectangular pulse, on a straight course, to readings (s, °C).

    Beginning, length (infinite: a fall without a rise) and time constant (a third of an octave apart, 4 to 160 s) are
    those of the grid that leave least.
    """
    time_s, temp_c = np.array(course).T
    lasting_s = np.array(lasts_s)
    least_left_c2 = [math.inf] * len(_TAUS_S)
    beside_c = _off_line(time_s, temp_c)
    line_c2 = float(beside_c @ beside_c)
    best = Pulse(0.0, 0.0, math.inf, line_c2, 0.0)
    for begin_s in begins_s:
        since_s = time_s - begin_s
        for number, tau_s in enumerate(_TAUS_S):
            shapes = _response(since_s, tau_s) - _response(since_s - lasting_s[:, None], tau_s)
            shapes = _off_line(time_s, shapes)
            crosses = shapes @ beside_c
            squares = np.maximum((shapes * shapes).sum(axis=1), 1e-12)
            lefts_c2 = line_c2 - crosses * crosses / squares
            at = int(lefts_c2.argmin())
            least_left_c2[number] = min(least_left_c2[number], float(lefts_c2[at]))
            if lefts_c2[at] < best.left_c2:
                best = Pulse(tau_s, -float(crosses[at] / squares[at]), float(lefts_c2[at]), line_c2, tau_s)
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
