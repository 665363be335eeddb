"""How fast bare graphite burns in air, and the dose a heat gives it.

A dose is time weighted by the rate: minutes at 600 °C that would burn as much. It is an upper bound, for bare graphite
in free air: a glaze (which melts at 700 to 900 °C) and a neutral or slightly rich flame keep the air away, catalytic
residues let it in faster. Knows rates and straight lines of temperature, and nothing of readings.
"""

import math
from collections.abc import Callable
from itertools import pairwise

from rampwarden.core.pot import oxidation_rate

# Cooler than this a whole day counts for less than a tenth of a second.
_NOTHING_BELOW_C = 250.0

PRONE_C = (315.0, 650.0)
"""°C, the range in which bare graphite is held to burn: "do not linger" (600 to 1200 °F, common practice, no source).

Burning grows faster above it, until the glaze protects (`SEALS_C`): most of a usual heat's dose comes from there.
"""

SEALS_C = (700.0, 900.0)
"""°C between which the glaze melts and seals the wall. Common practice, no source."""
UNSEALED_C = (PRONE_C[0], SEALS_C[1])
"""°C, from where graphite burns to where a sound glaze has sealed it."""

_KINKS_C = (_NOTHING_BELOW_C, 400.0, 500.0, 600.0, SEALS_C[0], 800.0, SEALS_C[1])
_PARTS = 8
"""Steps of Simpson's rule along one straight line; more than enough for a dose that is good to a factor at best."""


def relative_rate(temp_c: float) -> float:
    """Give how fast bare graphite burns in air, as a multiple of its rate at 600 °C.

    Parameters
    ----------
    temp_c : float
        °C. Below 250 °C it gives 0; the law is carried on down to there from its published lower end of 400 °C.

    Notes
    -----
    Arrhenius with two activation energies, constant above 800 °C; law and source stand in `core.pot`, which counts by
    the same rate.

    Examples
    --------
    >>> round(relative_rate(500.0), 3)
    0.059
    """
    return oxidation_rate(temp_c, math.inf)


def unsealed(temp_c: float) -> float:
    """Give what share of the wall is still open at a temperature on the way up: 1 below 700 °C, 0 from 900 on.

    A straight line between the two, for want of anything better (own arithmetic).
    """
    return min(1.0, max(0.0, (SEALS_C[1] - temp_c) / (SEALS_C[1] - SEALS_C[0])))


def unsealed_dose_s(from_c: float, to_c: float, seconds: float) -> float:
    """Give the dose of a straight line as `line_dose_s` does, through what the glaze has not sealed yet.

    >>> round(unsealed_dose_s(750.0, 750.0, 1800.0) / 60.0)
    96
    """
    return _line_dose_s(from_c, to_c, seconds, lambda temp_c: relative_rate(temp_c) * unsealed(temp_c))


def line_dose_s(from_c: float, to_c: float, seconds: float) -> float:
    """Give the dose of going straight from one temperature to another, in equivalent seconds at 600 °C.

    Simpson's rule between the law's kinks; within 1 % of the integral for any line up to 1400 °C.

    >>> round(line_dose_s(600.0, 600.0, 3600.0) / 60.0)
    60
    """
    return _line_dose_s(from_c, to_c, seconds, relative_rate)


def _line_dose_s(from_c: float, to_c: float, seconds: float, rate: Callable[[float], float]) -> float:
    if from_c == to_c:
        return rate(to_c) * seconds
    low_c, high_c = min(from_c, to_c), max(from_c, to_c)
    kinks = [kink for kink in _KINKS_C if low_c < kink < high_c]
    ends = [low_c, *kinks, high_c]
    per_c = seconds / (high_c - low_c)
    return sum(_simpson(start_c, end_c, rate) for start_c, end_c in pairwise(ends)) * per_c


def part_within(from_c: float, to_c: float, range_c: tuple[float, float]) -> tuple[float, float, float]:
    """Give the part of a straight line that lies in a range: its two ends, °C, and its share of the line's time.

    >>> part_within(265.0, 365.0, PRONE_C)
    (315.0, 365.0, 0.5)
    """
    lowest_c, highest_c = range_c
    start_c = min(max(from_c, lowest_c), highest_c)
    end_c = min(max(to_c, lowest_c), highest_c)
    if from_c == to_c:
        return start_c, end_c, 1.0 if lowest_c <= from_c <= highest_c else 0.0
    return start_c, end_c, abs(end_c - start_c) / abs(to_c - from_c)


def _simpson(from_c: float, to_c: float, rate: Callable[[float], float]) -> float:
    """Integrate the rate over temperature, °C, between two kinks."""
    step_c = (to_c - from_c) / _PARTS
    # A hair inside: at a kink the law of the other side would be asked.
    inner = sum((4.0 if number % 2 else 2.0) * rate(from_c + number * step_c) for number in range(1, _PARTS))
    ends = rate(from_c) + rate(to_c - 1e-9 * step_c)
    return (inner + ends) * step_c / 3.0
