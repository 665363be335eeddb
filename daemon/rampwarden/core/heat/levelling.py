"""Where a course that levels off leads to: the asymptote of a body that is heated by an even flame.

T = T∞ − A e^(−t/τ): for a range of τ the rest is a straight line fitted by least squares, and each τ counts by how well
it fits. Own arithmetic; the times are those of small furnaces. Knows no schedule.
"""

import math
from dataclasses import dataclass

# So close together that what lies between two of them makes no difference to where it leads.
_TAUS_S = tuple(300.0 * 1.22**place for place in range(16))
_NOISE_C2 = 0.15**2
# Errors of neighbouring points go together: so many count as one.
_ALIKE = 4.0


@dataclass(frozen=True, slots=True)
class Line:
    """y = at + slope x, the mean square of what is left, and the standard deviation of `at`."""

    at: float
    slope: float
    left_c2: float
    sd: float


@dataclass(frozen=True, slots=True)
class Level:
    """One way a course may level off: by `tau_s` towards `line.at` (°C), `line.slope` below it now; its likelihood."""

    tau_s: float
    line: Line
    weight: float


def levels(points: list[tuple[float, float]], misfit_c: float = 0.0) -> list[Level]:
    """Fit points (s, °C), some apart: gives each way it may level off. `misfit_c` is how far a climb by hand strays.

    A level's weight is its likelihood over the straight line's; there are none for a course that does not climb.
    """
    now_s = points[-1][0]
    straight = line_through([(time_s - now_s, temp_c) for time_s, temp_c in points])
    power, astray_c2 = 0.5 * len(points) / _ALIKE, misfit_c**2
    tried = []
    for tau_s in _TAUS_S:
        line = line_through([(-math.exp((now_s - time_s) / tau_s), temp_c) for time_s, temp_c in points])
        if line.slope > 0.0:
            tried.append(Level(tau_s, line, ((straight.left_c2 + astray_c2) / (line.left_c2 + astray_c2)) ** power))
    return tried


def line_through(course: list[tuple[float, float]]) -> Line:
    """Fit a line by least squares; x is never the same throughout."""
    count = len(course)
    mean_x, mean_y = sum(x for x, _ in course) / count, sum(y for _, y in course) / count
    xx = sum((x - mean_x) ** 2 for x, _ in course)
    slope = sum((x - mean_x) * (y - mean_y) for x, y in course) / xx
    left_c2 = sum((y - mean_y - slope * (x - mean_x)) ** 2 for x, y in course) / count + _NOISE_C2
    sd = math.sqrt(left_c2 * _ALIKE * (1.0 / count + mean_x**2 / xx))
    return Line(mean_y - slope * mean_x, slope, left_c2, sd)
