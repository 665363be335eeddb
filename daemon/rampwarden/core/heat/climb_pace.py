"""How long a climb still takes when no earlier heat tells: at the pace people hold, and at the one seen so far.

People keep away from a limit: they hold 0.75 to 0.8 of it (measured on simulated furnaces and operators, own
arithmetic). What has been climbed in this heat outweighs that as it grows.
"""

import math

from rampwarden.core.heat.guess import Guess, relative, spread_of
from rampwarden.core.heat.heat_course import LevelCourse

USUAL_SHARE = 0.77
"""The share of a limit that people hold."""
_SHARE_SPREAD = 0.10
# Towards its end a climb is slowed down, so as not to shoot past.
_CLOSING_IN_S = 25.0
# A pace is known to about this much however long it has been held, and worse while it is young or a climb in steps.
_PACE_SPREAD, _YOUNG_S, _STEP_C = 0.04, 75.0, 5.0
# What a pace is taken from: so much climbed, or so long, whichever is more; a climb that slows down is as fast as now.
_RECENT_C, _RECENT_S = 60.0, 900.0
_FADES_S = 600.0
# Nothing is told of a pace before so much of it has been seen, where no limit tells anything either.
_LEAST_CLIMB_C = 3.0
# A guess beyond this is none: it is standing still.
_LONGEST_S = 7 * 86400.0


def usual_share(logs: list[float]) -> tuple[float, float]:
    """Give the logarithm of the share of a limit to reckon with and its spread, from shares held before (logs)."""
    if not logs:
        return math.log(USUAL_SHARE), _SHARE_SPREAD
    mean, spread = spread_of(logs, _SHARE_SPREAD)
    # One more is what everybody does.
    mean = (len(logs) * mean + math.log(USUAL_SHARE)) / (len(logs) + 1)
    return mean, spread * math.sqrt(1.0 + 1.0 / (len(logs) + 1))


def planned_climb_s(climb_c: float, limit: float | None, share: tuple[float, float]) -> Guess | None:
    """Give how long a climb takes that has not begun; None without a limit, unless there is nothing to climb."""
    if climb_c <= 0.0:
        return Guess(0.0, 0.0)
    if limit is None:
        return None
    return relative(climb_c / (math.exp(share[0]) * limit) + _CLOSING_IN_S, share[1], 60.0)


def climb_left_s(
    course: LevelCourse, now: tuple[float, float], end_c: float, limit: float | None, share: tuple[float, float]
) -> Guess | None:
    """Give what is left of a climb from `now` (s, °C) to `end_c`; None where neither limit nor pace tells."""
    left_c = end_c - now[1]
    if left_c <= 0.0:
        return Guess(0.0, 10.0)
    weight = mean = 0.0
    seen = _seen_pace(course, now)
    if limit is not None:
        # What people do on the whole is forgotten as it is seen what this one does.
        fades = 1.0 if seen is None else _FADES_S / (_FADES_S + now[0] - course.began_s)
        weight = fades / share[1] ** 2
        mean = weight * (share[0] + math.log(limit))
    if seen is not None:
        counts = 1.0 / seen[1] ** 2
        mean += counts * math.log(seen[0])
        weight += counts
    if weight <= 0.0:
        return None
    left_s = left_c / math.exp(mean / weight)
    if left_s > _LONGEST_S:
        return None
    return relative(left_s + _CLOSING_IN_S, math.hypot(math.sqrt(1.0 / weight), _PACE_SPREAD), 40.0)


def _seen_pace(course: LevelCourse, now: tuple[float, float]) -> tuple[float, float] | None:
    """Give the pace of the latter part of what was climbed, °C/s, and its doubt as a share."""
    ends = course.ends_c
    if ends is None or now[1] - ends[0] < _LEAST_CLIMB_C:
        return None
    recent_c = max(_RECENT_C, ends[1] - (course.level_at(now[0] - _RECENT_S) or ends[0]))
    part_c = min(0.5 * (ends[1] - ends[0]), recent_c)
    from_s = course.passed_s(ends[1] - part_c)
    if from_s is None or now[0] <= from_s:
        return None
    # Standing still since the furthest point is part of the pace.
    gone_s = now[0] - from_s
    return part_c / gone_s, math.sqrt(_PACE_SPREAD**2 + (_YOUNG_S / gone_s) ** 2 + (_STEP_C / part_c) ** 2)
