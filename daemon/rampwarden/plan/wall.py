"""What a ramp does to a crucible's wall: lag, difference of temperature through it, stress, and the ramp it stands.

Formulas of a plane wall, elastic and long since ramping: an estimate, and the maker's sheet outranks it. One
thermocouple cannot see what breaks most pots (a flame square on the wall, heat from one side, steam in the pores);
through-wall stress is only what can be reckoned. Knows no crucible in particular; `bodies` has the figures.

Names: L is the wall, m; a = k/(rho cp) its diffusivity, m²/s. One side heated means from outside with still air in the
pot; both sides, or turned over, L/2 takes the place of L. Sources: Carslaw and Jaeger, Conduction of Heat in Solids;
Kingery and others, Introduction to Ceramics (both from memory; derived again and checked against a difference scheme).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rampwarden.core.quantities import Rate

SAFETY_FACTOR = 4.0
"""What a reckoned ramp is divided by: scatter of strength, ageing, local flame. Common practice, no source."""

HANDBOOK_SCATTER = 2.0
"""Handbook strengths and moduli of one kind of body differ by as much. Common practice, no source."""
BURST_S = 60.0
"""s in which a furnace spends a whole budget at worst: a lid lifted, a flame opened. Common practice, no source."""

_SERIES_TERMS = 50
_STEPS_IN_PERIOD = 50
_MOST_BURSTS = 40
_PER_HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class Body:
    """What a wall is made of, as far as heat and stress go. `source` says what the figures rest on.

    `diffusivity_m2_per_s` is the lower of what is known for 400 and 1000 °C: the poorer conductor is the worse case.
    """

    diffusivity_m2_per_s: float
    conductivity_w_per_m_k: float
    young_gpa: float
    expansion_per_k: float
    strength_mpa: float
    poisson: float
    source: str

    @property
    def shock_resistance_k(self) -> float:
        """R = s (1 - n) / (E b): the sudden difference that reaches the strength with nothing giving way, K.

        Source: Kingery and others, Introduction to Ceramics.
        """
        return sudden_difference_k(self.young_gpa, self.strength_mpa, self.expansion_per_k) * (1.0 - self.poisson)


@dataclass(frozen=True, slots=True)
class WallCourse:
    """The worst a budget allows: `burst_k` within `burst_s`, again every `period_s`, `bursts` times."""

    burst_k: float
    burst_s: float
    period_s: float
    bursts: int


def worst_course(limits: Sequence[Rate], way_k: float) -> WallCourse:
    """Give the worst course that several limits allow together over `way_k` of climb or fall; needs a limit.

    A budget of 120 °C in 10 min may be spent within a minute, and again ten minutes later. A shorter limit beside it
    bounds the burst; the slowest bounds how soon it comes again.
    """
    burst_k = min(way_k, *(limit.climb_c * max(1.0, BURST_S / limit.window_s) for limit in limits))
    period_s = max(BURST_S, *(burst_k * limit.window_s / limit.climb_c for limit in limits))
    return WallCourse(burst_k, BURST_S, period_s, max(1, min(_MOST_BURSTS, round(way_k / burst_k))))


def sudden_difference_k(young_gpa: float, strength_mpa: float, expansion_per_k: float) -> float:
    """Give the sudden change of temperature that breaks a bar held at its ends: s/(E b), K.

    The trap: with E and s exchanged it still gives something plausible, as a solution in circulation shows.
    Source: Callister, Materials Science and Engineering, section 19.5 (from memory) and problem 19.D4.

    >>> round(sudden_difference_k(69.0, 69.0, 9.0e-6), 1)
    111.1
    """
    return strength_mpa / (young_gpa * 1000.0 * expansion_per_k)


def through_wall_k(ramp_k_per_h: float, wall_m: float, diffusivity_m2_per_s: float) -> float:
    """Give the difference through a wall heated from one side, K: r L²/(2a), once the ramp has lasted a while.

    >>> round(through_wall_k(300.0, 0.012, 5.11e-7), 2)
    11.74
    """
    return ramp_k_per_h / _PER_HOUR * wall_m**2 / (2.0 * diffusivity_m2_per_s)


def settling_s(wall_m: float, diffusivity_m2_per_s: float) -> float:
    """Give how long a ramp must last until the difference through the wall stands, s: L²/a, when 91 % of it do."""
    return wall_m**2 / diffusivity_m2_per_s


def tension_mpa(body: Body, pull_k: float) -> float:
    """Give the tension in a face that is `pull_k` off the wall's mean, not free to bend, MPa: E b dT/(1 - n).

    Under an even ramp the hot face is pressed by two thirds of the difference through the wall and the cold face pulled
    by one third; cooling reverses both, so a wall stands half the ramp cooling that it stands heating.
    Source: Kingery and others, Introduction to Ceramics (from memory, derived again).
    """
    return body.young_gpa * 1000.0 * body.expansion_per_k * pull_k / (1.0 - body.poisson)


def worst_pull_k(course: WallCourse, wall_m: float, diffusivity_m2_per_s: float, *, cooling: bool) -> float:
    """Give the greatest difference that pulls at a face under a course, K: mean to face, while heating back to mean.

    The tension is E b/(1 - n) of it. Linear, so the answer to one burst is added up over the bursts before it; followed
    over the last period in steps of a fiftieth of it. Source: Carslaw and Jaeger (from memory), derived again here as
    the series of a plane wall; checked against an explicit difference scheme.
    """
    settling = settling_s(wall_m, diffusivity_m2_per_s)
    slope_k_per_s = course.burst_k / course.burst_s
    worst_k = 0.0
    for step in range(_STEPS_IN_PERIOD + 1):
        after_s = course.burst_s + (course.period_s - course.burst_s) * step / _STEPS_IN_PERIOD
        pull = 0.0
        for number in range(course.bursts):
            since_s = after_s + number * course.period_s
            pull += _ramp_pull(since_s / settling, cooling=cooling)
            pull -= _ramp_pull((since_s - course.burst_s) / settling, cooling=cooling)
        worst_k = max(worst_k, pull * slope_k_per_s * settling)
    return worst_k


def even_pull_k(ramp_k_per_s: float, wall_m: float, diffusivity_m2_per_s: float, *, cooling: bool) -> float:
    """Give the difference that pulls at a face under an even ramp, K: two thirds of all cooling, a third heating."""
    through_k = through_wall_k(ramp_k_per_s * _PER_HOUR, wall_m, diffusivity_m2_per_s)
    return through_k * (2.0 if cooling else 1.0) / 3.0


def _ramp_pull(fourier: float, *, cooling: bool) -> float:
    """Give the same for a ramp of one kelvin a settling time that has lasted `fourier` of them."""
    if fourier <= 0.0:
        return 0.0
    total = 0.0
    for n in range(_SERIES_TERMS):
        root = (2 * n + 1) * math.pi / 2.0
        built = -math.expm1(-root * root * fourier)
        mean_lag = 2.0 / root**4 * built
        back_lag = (-1.0) ** n * 2.0 / root**3 * built
        total += mean_lag if cooling else back_lag - mean_lag
    return total
