"""How much of a drying a minute gives, by the temperature of the pot.

Advice agrees only in its direction: time grows as temperature falls, nothing counts below about 110 °C of the pot and
little below 150. The points below are the shortest that is usual (common practice, no source): 20 minutes at 260 °C,
30 at 180, two hours at 150. Between them the share of a minute is a straight line (own arithmetic). A full share is
therefore long enough by the shortest advice and proves nothing: dryness is proven by weight, or by a heat balance.
"""

from bisect import bisect_right

HOTTEST_C = 270.0
"""°C, above which time in the heat is no drying but firing."""

_POINTS_C = (110.0, 150.0, 180.0, 260.0)
_PER_S = (0.0, 1 / 7200.0, 1 / 1800.0, 1 / 1200.0)


def drying_per_s(temp_c: float) -> float:
    """Give the share of a whole drying that a second at `temp_c` (°C of the pot) gives, 1/s.

    >>> round(20 * 60 * drying_per_s(260.0), 3), round(120 * 60 * drying_per_s(150.0), 3), drying_per_s(105.0)
    (1.0, 1.0, 0.0)
    """
    if not _POINTS_C[0] < temp_c <= HOTTEST_C:
        return 0.0
    place = bisect_right(_POINTS_C, temp_c)
    if place == len(_POINTS_C):
        return _PER_S[-1]
    low_c, high_c = _POINTS_C[place - 1], _POINTS_C[place]
    share = (temp_c - low_c) / (high_c - low_c)
    return _PER_S[place - 1] + share * (_PER_S[place] - _PER_S[place - 1])
