"""What a ramp does to a crucible's wall: lag, difference of temperature through it, stress, and the ramp it stands.

Formulas of a plane wall, elastic and long since ramping: an estimate, and the maker's sheet outranks it. One
thermocouple cannot see what breaks most pots (a flame square on the wall, heat from one side, steam in the pores);
through-wall stress is only what can be reckoned. Knows no crucible in particular; `bodies` has the figures.

Names: L is the wall, m; a = k/(rho cp) its diffusivity, m²/s. One side heated means from outside with still air in the
pot; both sides, or turned over, L/2 takes the place of L. Sources: Carslaw and Jaeger, Conduction of Heat in Solids;
Kingery and others, Introduction to Ceramics (both from memory; derived again and checked against a difference scheme).
"""

import math
from dataclasses import dataclass

SAFETY_FACTOR = 4.0
"""What a reckoned ramp is divided by: scatter of strength, ageing, local flame. Common practice, no source."""

_SERIES_TERMS = 50
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
class WallStress:
    """Stress of a wall heated from outside, MPa: compression negative. When cooled, both change sign."""

    hot_face_mpa: float
    cold_face_mpa: float


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


def mean_lag_k(ramp_k_per_h: float, wall_m: float, diffusivity_m2_per_s: float) -> float:
    """Give how far the wall's mean lags behind its heated face, K: two thirds of the difference through it."""
    return 2.0 / 3.0 * through_wall_k(ramp_k_per_h, wall_m, diffusivity_m2_per_s)


def settling_s(wall_m: float, diffusivity_m2_per_s: float) -> float:
    """Give how long a ramp must last until the difference through the wall stands, s: L²/a, when 91 % of it do."""
    return wall_m**2 / diffusivity_m2_per_s


def built_up(seconds: float, wall_m: float, diffusivity_m2_per_s: float) -> float:
    """Give what share of its final difference the wall has `seconds` after a ramp began, 0 to 1.

    Fourier's series for a plane wall heated from one side, exact to 1e-9 from a hundredth of `settling_s` on.
    Source: Carslaw and Jaeger (from memory; agrees with a difference scheme to 2e-5).
    """
    fourier = seconds / settling_s(wall_m, diffusivity_m2_per_s)
    if fourier <= 0.0:
        return 0.0
    # The back of the wall lags by theta(Fo); cosines of the odd quarter waves.
    lag = 1.0 - sum(
        32.0 / math.pi**3 * (-1.0) ** n / (2 * n + 1) ** 3 * math.exp(-(((2 * n + 1) * math.pi / 2.0) ** 2) * fourier)
        for n in range(_SERIES_TERMS)
    )
    return max(0.0, lag)


def stress(body: Body, difference_k: float) -> WallStress:
    """Give the stress of a difference through the wall, heated from outside and not free to bend.

    The hot face is pressed by two thirds, the cold face pulled by one third of E b dT/(1 - n). Cooling reverses both,
    so the hot face is then pulled by two thirds: a wall stands half the ramp cooling that it stands heating.
    Source: Kingery and others, Introduction to Ceramics (from memory, derived again).
    """
    whole_mpa = body.young_gpa * 1000.0 * body.expansion_per_k * difference_k / (1.0 - body.poisson)
    return WallStress(hot_face_mpa=-2.0 / 3.0 * whole_mpa, cold_face_mpa=whole_mpa / 3.0)


def limit_heating_k_per_h(body: Body, wall_m: float, factor: float = SAFETY_FACTOR) -> float:
    """Give the fastest ramp a wall heated from one side stands, K/h: 6 a R/L², divided by the factor."""
    return 6.0 * body.diffusivity_m2_per_s * body.shock_resistance_k / wall_m**2 / factor * _PER_HOUR


def limit_cooling_k_per_h(body: Body, wall_m: float, factor: float = SAFETY_FACTOR) -> float:
    """Give the fastest cooling it stands, K/h: half of that, for twice the tension stands in the hot face then."""
    return limit_heating_k_per_h(body, wall_m, factor) / 2.0
