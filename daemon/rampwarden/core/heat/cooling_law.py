"""How a closed furnace cools: by Newton's law with what radiation and deep walls add, fitted to the cooling itself.

θ is the temperature above the room's. dθ/dt = −θ (1 + b θ³) / τ, so that a time is τ (Φ(θ₁) − Φ(θ₂)) with
Φ = ln θ − ⅓ ln(1 + b θ³): b = 0 is Newton's law of cooling, b > 0 adds a loss that grows with the fourth power, as
radiation does (Carslaw and Jaeger, Conduction of Heat in Solids, ch. I). How much is lost so is not known beforehand:
each b is tried and counts by how well it fits. A low flame may hold the cooling at an even pace instead: that is tried
too where a limit gives somebody reason to. Form and prior weights are own arithmetic.
"""

import math
from dataclasses import dataclass

from rampwarden.core.heat.guess import Guess, mixed, relative

_PER_C3 = 1e-9
_BENDS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.5)
"""b, per (1000 °C)³."""
_USUAL_BEND, _BEND_SPREAD = 0.7, 0.6
# What is known of a furnace that has not cooled yet: small ones fall by 1/e in some 45 to 160 minutes.
_USUAL_TAU_S, _TAU_SPREAD = 5400.0, 0.45
# A furnace that held its heat for a moment after the gas was off does not show its law yet.
_SETTLED_SHARE = 0.97
# Times at which levels are passed are unsure by about this much, and what is fitted is no law of nature.
_PASSED_WITHIN_S = 4.0
_MOST_POINTS = 40
# The newest point counts e⁵ times as much as the oldest: no furnace keeps one law from end to end.
_NEWEST = 5.0
_FEWEST_POINTS = 6
# Errors of neighbouring points go together: so many count as one.
_ALIKE = 5.0
# The law itself is wrong by about this share, and more the further it is carried beyond what it was seen over.
_LAW_SPREAD, _AHEAD_SPREAD, _FURTHEST = 0.025, 0.012, 20.0
# Nothing cools to within a few degrees of the room in a time that means anything.
_LEAST_ABOVE_C = 3.0
_HELD_FROM, _HELD_TO = 0.5, 1.1
_KEEPS_UP_SHARE = 0.75
# The present law is taken from as long ago as it is carried on, and somewhat longer.
_NEAR_SHARE, _NEAR_S = 2.0, 900.0
# The end is noticed in a reading that scatters.
_NOTICED_S = 8.0
# Once it is left to itself: three furnaces (weight, and standard deviations off the usual), and how sure each is.
_TAUS_TRIED, _FREE_SPREAD = ((0.3, -1.0), (0.4, 0.0), (0.3, 1.0)), 0.2
# A pace held by hand is held to about so much.
_HELD_SPREAD = 0.07
# How much likelier an even pace is where there is a limit to keep.
_HELD_COUNTS = 20.0


@dataclass(frozen=True, slots=True)
class _Line:
    """Seconds gone over a measure of the way, fitted: s a unit, the mean square of what is left, and the slope's share
    of doubt."""

    per_unit: float
    left_s2: float
    doubt: float


def cooling_s(points: list[tuple[float, float]], room_c: float, to_c: float, limit: float | None) -> Guess | None:
    """Give how long a cooling takes from its last point to `to_c` (°C), by the law its points (s, °C) show.

    `limit` is what it may fall by, °C/s. None while the points show none yet, or where it never gets there.
    """
    if to_c <= room_c + _LEAST_ABOVE_C:
        return None
    course, end = _settled(points, room_c), to_c - room_c
    guess = _by_law(course, end, limit)
    if guess is None:
        return None
    # No furnace keeps one law from end to end: what is near tells of what is near.
    since_s = course[-1][0] - _NEAR_SHARE * guess.best_s - _NEAR_S
    near = _by_law([point for point in course if point[0] >= since_s], end, limit)
    return guess if near is None else near


def _by_law(points: list[tuple[float, float]], end: float, limit: float | None) -> Guess | None:
    """Give how long it takes from the last of points (s, θ) to θ = `end`, by each law as it fits; None for too few."""
    if len(points) < _FEWEST_POINTS:
        return None
    course, now = _thinned(points), points[-1][1]
    if now <= end:
        return Guess(0.0, 0.0)
    seen, ahead = math.log(points[0][1] / now), math.log(now / end)
    law = _LAW_SPREAD + _AHEAD_SPREAD * min(ahead / max(seen, 1e-6), _FURTHEST)
    tried: list[tuple[float, float, Guess]] = []
    for bend in _BENDS:
        line = _fit([(_measure(theta, bend), time_s) for time_s, theta in course])
        if line.per_unit > 0.0:
            taken = relative(
                line.per_unit * (_measure(now, bend) - _measure(end, bend)), math.hypot(line.doubt, law), _NOTICED_S
            )
            astray = (bend - _USUAL_BEND) / _BEND_SPREAD, math.log(line.per_unit / _USUAL_TAU_S) / _TAU_SPREAD
            tried.append((math.exp(-0.5 * (astray[0] ** 2 + astray[1] ** 2)), line.left_s2, taken))
    if limit is not None:
        line = _fit([(theta, time_s) for time_s, theta in course])
        if line.per_unit > 0.0 and _HELD_FROM * limit < 1.0 / line.per_unit < _HELD_TO * limit:
            tried.append((_HELD_COUNTS, line.left_s2, _held(line, now, end)))
    if not tried:
        return None
    least = min(left for _, left, _ in tried)
    power = 0.5 * len(course) / _ALIKE
    return mixed((prior * (least / left) ** power, taken) for prior, left, taken in tried)


def unseen_cooling_s(from_c: float, room_c: float, to_c: float, limit: float | None, pace: float) -> Guess | None:
    """Give how long a cooling takes that has not begun, in a furnace of which nothing is known."""
    if to_c <= room_c + _LEAST_ABOVE_C:
        return None
    above, end = from_c - room_c, to_c - room_c
    if above <= end:
        return Guess(0.0, 60.0)
    free_s = _USUAL_TAU_S * (_measure(above, _USUAL_BEND) - _measure(end, _USUAL_BEND))
    held_s = 0.0 if limit is None else (above - end) / (pace * limit)
    return relative(max(free_s, held_s), _TAU_SPREAD)


def _held(line: _Line, now: float, end: float) -> Guess:
    """Give a cooling that a low flame holds at its pace, until the furnace itself would be slower: who knows when."""
    pace = 1.0 / line.per_unit
    # Were the furnace slower than this it could not have kept the pace down to here.
    quickest_s = now * (1.0 + _USUAL_BEND * _PER_C3 * now**3) / pace
    tried = []
    for weight, way in _TAUS_TRIED:
        tau_s = min(_USUAL_TAU_S * math.exp(way * _TAU_SPREAD), _KEEPS_UP_SHARE * quickest_s)
        alone = min(now, max(end, _theta_falling_at(pace, tau_s)))
        free_s = tau_s * (_measure(alone, _USUAL_BEND) - _measure(end, _USUAL_BEND))
        held = relative(line.per_unit * (now - alone), math.hypot(line.doubt, _HELD_SPREAD))
        tried.append((weight, Guess(held.best_s + free_s, math.hypot(held.sd_s, _FREE_SPREAD * free_s))))
    return mixed(tried) or Guess(0.0, 0.0)


def _theta_falling_at(pace: float, tau_s: float) -> float:
    """Give θ at which a furnace falls at this pace by itself, °C."""
    theta = pace * tau_s
    for _ in range(8):
        theta = pace * tau_s / (1.0 + _USUAL_BEND * _PER_C3 * theta**3)
    return theta


def _settled(points: list[tuple[float, float]], room_c: float) -> list[tuple[float, float]]:
    """Give the points (s, θ) from where the furnace really cools."""
    if not points:
        return []
    top = _SETTLED_SHARE * (points[0][1] - room_c)
    return [(time_s, temp_c - room_c) for time_s, temp_c in points if _LEAST_ABOVE_C < temp_c - room_c <= top]


def _thinned(course: list[tuple[float, float]]) -> list[tuple[float, float]]:
    if len(course) <= _MOST_POINTS:
        return course
    step = (len(course) - 1) / (_MOST_POINTS - 1)
    return [course[round(place * step)] for place in range(_MOST_POINTS)]


def _measure(theta: float, bend: float) -> float:
    return math.log(theta) - math.log1p(bend * _PER_C3 * theta**3) / 3.0


def _fit(course: list[tuple[float, float]]) -> _Line:
    """Fit seconds over a falling measure, the newer points counting more."""
    count = len(course)
    weights = [math.exp(_NEWEST * place / count) for place in range(count)]
    whole = sum(weights)
    mean_x = sum(weight * x for weight, (x, _) in zip(weights, course, strict=True)) / whole
    mean_y = sum(weight * y for weight, (_, y) in zip(weights, course, strict=True)) / whole
    xx = xy = yy = 0.0
    for weight, (x, y) in zip(weights, course, strict=True):
        dx, dy = x - mean_x, y - mean_y
        xx, xy, yy = xx + weight * dx * dx, xy + weight * dx * dy, yy + weight * dy * dy
    if xx <= 0.0:
        return _Line(0.0, 1.0, 1.0)
    slope = xy / xx
    left_s2 = max(yy - slope * xy, 0.0) / whole + _PASSED_WITHIN_S**2
    doubt = math.sqrt(left_s2 * _ALIKE / xx) / abs(slope) if slope else 1.0
    return _Line(-slope, left_s2, min(doubt, 1.0))
