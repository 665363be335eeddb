"""How long a climb still takes when no earlier heat tells: at the pace people hold, and at the one seen so far.

People keep away from a limit: they hold 0.75 to 0.8 of it (measured on simulated furnaces and operators, own
arithmetic). What has been climbed in this heat outweighs that as it grows.
"""

import math

from rampwarden.core.heat.guess import Guess, mixed, relative, spread_of
from rampwarden.core.heat.heat_course import LevelCourse
from rampwarden.core.heat.levelling import levels

USUAL_SHARE = 0.77
"""The share of a limit that people hold."""
_SHARE_SPREAD = 0.10
# Towards a soak a climb is slowed down, so as not to shoot past, or by a burner at its end: in every other heat not at
# all, in some by a third of what is left. Measured on simulated furnaces and operators, own arithmetic.
_CLOSING_IN_S, _CLOSES_WITHIN_S, _CLOSES_LATE = 110.0, 700.0, 0.17
# Of a climb that has not begun it is known too little for more than this.
_PLANNED_CLOSING_IN_S = 25.0
# A pace is known to about this much however long it has been held, and worse while it is young or a climb in steps.
_PACE_SPREAD, _YOUNG_S, _STEP_C = 0.04, 75.0, 5.0
# What a pace is taken from: so much climbed, or so long, whichever is more; a climb that slows down is as fast as now.
_RECENT_C, _RECENT_S = 60.0, 900.0
_FADES_S = 600.0
# Nothing is told of a pace before so much of it has been seen, where no limit tells anything either.
_LEAST_CLIMB_C = 3.0
# A burner at its end climbs ever slower: looked for in so much of the course, in points so far apart, each way of it
# likely by so much beforehand. Own arithmetic.
_LEVELS_WITHIN_S, _MOST_POINTS, _FEWEST_POINTS, _LEAST_SPAN_S = 900.0, 36, 12, 330.0
_LEVELS_PRIOR, _LEVELS_SPREAD, _SLOWEST, _ASTRAY = 0.003, 0.15, 2.0, 0.01
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
    return relative(climb_c / (math.exp(share[0]) * limit) + _PLANNED_CLOSING_IN_S, share[1], 60.0)


def climb_left_s(
    course: LevelCourse,
    now: tuple[float, float],
    end_c: float,
    limit: float | None,
    share: tuple[float, float],
    *,
    to_soak: bool,
) -> Guess | None:
    """Give what is left of a climb from `now` (s, °C) to `end_c`, where a soak follows or not.

    None where neither limit nor pace tells.
    """
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
    doubt = math.hypot(math.sqrt(1.0 / weight), _PACE_SPREAD)
    evenly = _closing_in(left_s, doubt) if to_soak else relative(left_s, doubt, 40.0)
    return mixed([(1.0, evenly), *_levelling_off(course, now, end_c, evenly)])


def _closing_in(left_s: float, doubt: float) -> Guess:
    """Give how long a climb takes that is slowed down before a soak, from how long it would at its pace."""
    best_s = left_s + _CLOSING_IN_S * -math.expm1(-left_s / _CLOSES_WITHIN_S)
    return Guess(best_s, math.hypot(doubt * best_s, 30.0), _CLOSES_LATE * best_s)


def _levelling_off(
    course: LevelCourse, now: tuple[float, float], end_c: float, evenly: Guess
) -> list[tuple[float, Guess]]:
    """Give how long it takes if the climb is levelling off, in each way it may, by how likely that is beside an even
    one."""
    points = course.points()
    # A slow oven is turned up in steps: several of them belong to one look.
    since_s = min(now[0] - _LEVELS_WITHIN_S, course.passed_s(now[1] - _RECENT_C) or now[0])
    apart_s = (now[0] - since_s) / _MOST_POINTS
    recent: list[tuple[float, float]] = []
    for point in points:
        if point[0] >= since_s and (not recent or point[0] - recent[-1][0] >= apart_s):
            recent.append(point)
    if len(recent) < _FEWEST_POINTS or recent[-1][0] - recent[0][0] < _LEAST_SPAN_S:
        return []
    # What was seen for a quarter of an hour tells little of the hours to come.
    prior = _LEVELS_PRIOR * min(1.0, _LEVELS_WITHIN_S / max(evenly.best_s, 1.0)) ** 2
    guesses = []
    for each in levels(recent, _ASTRAY * (recent[-1][1] - recent[0][1])):
        # Who sees it slow down turns the gas up, as far as it goes.
        longest_s = _SLOWEST * evenly.best_s
        beyond_c = each.line.at - end_c
        left_s = longest_s if beyond_c <= 0.0 else min(each.tau_s * math.log(each.line.slope / beyond_c), longest_s)
        guesses.append((prior * each.weight, relative(max(left_s, 0.0), _LEVELS_SPREAD, 40.0)))
    return guesses


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
