"""A probe's answer to a lid, fitted: a first-order response to a rectangular pulse, on top of a straight course.

Some dozens of numbers once a lid: plain Python takes a few hundredths of a second, and the watch needs no numpy.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

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
    line = _Line([time_s for time_s, _ in course])
    beside_c, line_c2 = line.taken_out([temp_c for _, temp_c in course])
    least_left_c2 = [math.inf] * len(_TAUS_S)
    best = Pulse(0.0, 0.0, math.inf, line_c2, 0.0)
    for begin_s in begins_s:
        since_s = [time_s - begin_s for time_s, _ in course]
        for number, tau_s in enumerate(_TAUS_S):
            begun = _response(since_s, tau_s)
            for last_s in lasts_s:
                ended = _response([passed_s - last_s for passed_s in since_s], tau_s)
                shape, squares = line.taken_out([up - down for up, down in zip(begun, ended, strict=True)])
                cross = _dot(shape, beside_c)
                squares = max(squares, 1e-12)
                left_c2 = line_c2 - cross * cross / squares
                least_left_c2[number] = min(least_left_c2[number], left_c2)
                if left_c2 < best.left_c2:
                    best = Pulse(tau_s, -cross / squares, left_c2, line_c2, tau_s)
    as_good = (
        tau_s for tau_s, left_c2 in zip(_TAUS_S, least_left_c2, strict=True) if left_c2 <= _AS_GOOD * best.left_c2
    )
    return replace(best, least_s=next(as_good, best.tau_s))


def _response(since_s: Sequence[float], tau_s: float) -> list[float]:
    """Give what has followed of a unit step at zero."""
    return [-math.expm1(-passed_s / tau_s) if passed_s > 0.0 else 0.0 for passed_s in since_s]


class _Line:
    """The straight lines over some times (s)."""

    def __init__(self, time_s: Sequence[float]) -> None:
        mean_s = sum(time_s) / len(time_s)
        self._beside_s = [at_s - mean_s for at_s in time_s]
        self._squares_s2 = _dot(self._beside_s, self._beside_s)

    def taken_out(self, values: Sequence[float]) -> tuple[list[float], float]:
        """Give the values without their best straight line, and the squares that are left."""
        mean = sum(values) / len(values)
        slope = _dot(values, self._beside_s) / self._squares_s2
        off = [value - mean - slope * at_s for value, at_s in zip(values, self._beside_s, strict=True)]
        return off, _dot(off, off)


def _dot(one: Sequence[float], other: Sequence[float]) -> float:
    return sum(map(float.__mul__, one, other))
