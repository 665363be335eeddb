"""When a pot's water has visibly left, by the course of its own temperature alone.

Water that leaves takes up heat: from 80 to 112 °C a wet pot climbs slower than it did from 40 to 60, and once the water
is gone it runs after its oven, which has gone on climbing. Of a simulated pot of 5 kg in an oven at 90 K/h the slope
falls to 0.69 to 0.64 of itself with 2 % of water, to 0.59 to 0.43 with 3 %, to 0.50 to 0.27 with 5 to 8 %, and recovers
2.7- to 10-fold; of a dry one neither happens (1.02 and 1.0; own arithmetic). One per cent leaves hardly a trace, and an
oven whose dial stood still and was then turned up looks the same: so this excuses nothing, it only keeps a climb that
came afterwards from being held to be steam for certain. A probe in the chamber sees none of it.
"""

from collections.abc import Iterable, Sequence

from rampwarden.core.pot.evidence import Belief, EvidenceStretch

_Point = tuple[float, float]
"""s, °C."""

# °C: where the climb is still that of a pot whose water stays, and where its water leaves.
_BEFORE_C = (40.0, 60.0)
_LEAVES_C = (80.0, 115.0)
# Slopes are taken over so long, s: the span of a stretch and the flicker of its ends do not matter then.
_SLOW_FOR_S = 600.0
_FAST_FOR_S = 300.0
# Of the climb before, the most that counts as slowed; how many times the slow climb counts as recovered, and the climb
# before as running after the oven. A dial that stood and went on at its old pace does not reach the last.
_SLOWED_TO = 0.7
_RECOVERS_BY = 2.5
_RUNS_BY = 1.2


def water_left_s(stretches: Iterable[EvidenceStretch]) -> float | None:
    """Give from when on the climb had recovered, s since the heat began; None if that was not seen.

    Seen without a break: from below 40 °C to the recovery every stretch is believed, or nothing is said.
    """
    course: list[_Point] = []
    for stretch in stretches:
        if stretch.belief is not Belief.BELIEVED:
            break
        if not course:
            course.append((stretch.from_s, stretch.begin_c))
        course.append((stretch.to_s, stretch.end_c))
    return _recovered_s(course)


def _recovered_s(course: Sequence[_Point]) -> float | None:
    before = _slope_before(course)
    if before is None:
        return None
    slowest, slow, fast = _SLOWED_TO * before, -1, 0
    seen_slow = False
    for time_s, temp_c in course:
        # The slow climbs that ended where this one begins, or earlier.
        while course[fast + 1][0] <= time_s - _FAST_FOR_S:
            fast += 1
            slow, slope = _slow_climb(course, fast, slow)
            if slope is not None and slope <= slowest:
                slowest, seen_slow = slope, True
        begun_s, begun_c = course[fast]
        if seen_slow and time_s - begun_s >= _FAST_FOR_S:
            slope = (temp_c - begun_c) / (time_s - begun_s)
            if slope >= max(_RECOVERS_BY * slowest, _RUNS_BY * before):
                return begun_s
    return None


def _slow_climb(course: Sequence[_Point], end: int, begin: int) -> tuple[int, float | None]:
    """Give the slope over the ten minutes before a point, °C/s, if all of it lay where water leaves; and its begin."""
    while course[begin + 1][0] <= course[end][0] - _SLOW_FOR_S:
        begin += 1
    if begin < 0 or course[begin][1] < _LEAVES_C[0] or course[end][1] > _LEAVES_C[1]:
        return begin, None
    return begin, (course[end][1] - course[begin][1]) / (course[end][0] - course[begin][0])


def _slope_before(course: Sequence[_Point]) -> float | None:
    """Give the slope from 40 to 60 °C, °C/s; None for a pot that was warmer when it was first seen."""
    low_c, high_c = _BEFORE_C
    if not course or course[0][1] > low_c:
        return None
    low_s = next((time_s for time_s, temp_c in course if temp_c >= low_c), None)
    high = next(((time_s, temp_c) for time_s, temp_c in course if temp_c >= high_c), None)
    if low_s is None or high is None or high[0] <= low_s:
        return None
    return (high[1] - low_c) / (high[0] - low_s)
