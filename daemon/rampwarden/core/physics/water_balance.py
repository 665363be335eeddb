"""Grams of water that left a drying pot, by the heat it took and did not show: pot and oven temperature side by side.

What the oven gave and the pot did not keep went into water: gone = integral of (P - C dT/dt) dt / (L + 60 K c_w). How
the oven gives, P = h (T_oven - T) with a share by radiation, is fitted while the pot is below 60 °C and its water still
stays, or known from the pot's own dry heat in the same oven. With that, grams are within 40 of the truth on two model
pots of 5 kg (own arithmetic); without it the interval is wide.

Latent heat and specific heat of water at 100 °C: IAPWS (Wagner and Pruss). Pure.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

# J/g, of water boiling at 100 °C, and what a gram takes to get there from the 40 °C at which its pot was fitted.
_TAKES_J_PER_G = 2256.5 + 60.0 * 4.19
_WATER_J_PER_G_K = 4.19
_ZERO_C_IN_K = 273.15
# The pot is fitted between these, °C, and summed up from the upper one to the end.
_FIT_C = (30.0, 60.0)
_END_C = 150.0
_FEWEST = 10
_HALVINGS = 20
# Of the exchange at 50 °C, what radiation gives: 4 e s T³ of some 7 W/(m² K) beside 10 of moving air. Own arithmetic.
_RADIATED = 0.4
_RADIATED_WITHIN = (0.0, 0.8)
_RADIATED_AT_K = 323.0
# What the fit leaves open besides, of what was found, and grams whatever was found. Own arithmetic, on two model walls.
_SHARE_OPEN, _OPEN_G, _MISSED = 0.10, 20.0, 1.5


@dataclass(frozen=True, slots=True)
class WaterGone:
    """Grams of water gone, with the interval they lie in about nine times in ten."""

    grams: float
    low_g: float
    high_g: float


@dataclass(frozen=True, slots=True)
class DryHeat:
    """What this pot's own dry heat showed in the same oven: the exchange at 50 °C, W/K, and radiation's share of it."""

    exchange_w_per_k: float
    radiated: float
    zero_g: float


def learn_dry_heat(course: Sequence[tuple[float, float, float]], pot_j_per_k: float) -> DryHeat | None:
    """Learn from the course of a heat in which the pot was dry; None where it cannot be fitted.

    The share is the one with which no water seems to leave, as far as one from none to all does; the rest is a zero.
    """
    low, high = 0.0, 1.0
    if _summed(course, pot_j_per_k, low) is None:
        return None
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if (_summed(course, pot_j_per_k, middle) or 0.0) > 0.0:
            high = middle
        else:
            low = middle
    radiated = 0.5 * (low + high)
    exchange = _fitted_w_per_k(course, pot_j_per_k, radiated)
    if exchange is None:
        return None
    return DryHeat(exchange, radiated, _taken_j(course, pot_j_per_k, exchange, radiated, _FIT_C[0]) / _TAKES_J_PER_G)


def water_gone(
    course: Sequence[tuple[float, float, float]], pot_j_per_k: float, dry: DryHeat | None = None
) -> WaterGone | None:
    """Give the water that left by the end of a course; None where it begins too warm to be fitted, or too short.

    Parameters
    ----------
    course : sequence of (time_s, pot_c, oven_c)
        s rising, °C; means of half a minute to two minutes.
    pot_j_per_k : float
        J/K of the dry pot.
    dry : DryHeat or None
        What its dry heat in this oven showed; without it how the oven gives is assumed, and the interval is wide.

    Notes
    -----
    With a dry heat everything from 30 °C on is summed up. Without one the exchange is fitted below 60 °C, as if no
    water left there, and what does leave there is missed: of much water a third. The water still in the pot takes part
    in its heat capacity while it is fitted, so that sum is done twice: with none, then with what was found.
    """
    if dry is not None:
        if not course or course[0][1] > _FIT_C[0]:
            return None
        taken_j = _taken_j(course, pot_j_per_k, dry.exchange_w_per_k, dry.radiated, _FIT_C[0])
        grams = max(0.0, taken_j / _TAKES_J_PER_G - dry.zero_g)
        open_g = _SHARE_OPEN * grams + _OPEN_G
        return WaterGone(grams, max(0.0, grams - open_g), grams + open_g)
    best = _summed(course, pot_j_per_k, _RADIATED)
    if best is None:
        return None
    bounds = [each for share in _RADIATED_WITHIN if (each := _summed(course, pot_j_per_k, share)) is not None]
    grams = max(0.0, best)
    low_g = min(best, *bounds) - _SHARE_OPEN * grams - _OPEN_G
    high_g = max(best, *bounds) * _MISSED + _OPEN_G
    return WaterGone(grams, max(0.0, low_g), max(0.0, high_g))


def taken_g(course: Sequence[tuple[float, float, float]], pot_j_per_k: float, dry: DryHeat) -> float:
    """Give the water that left within a stretch of a course, g, with what the pot's dry heat showed."""
    taken_j = _taken_j(course, pot_j_per_k, dry.exchange_w_per_k, dry.radiated, _FIT_C[0], math.inf)
    return taken_j / _TAKES_J_PER_G


def _summed(course: Sequence[tuple[float, float, float]], pot_j_per_k: float, radiated: float) -> float | None:
    grams = 0.0
    for _ in range(2):
        exchange = _fitted_w_per_k(course, pot_j_per_k + _WATER_J_PER_G_K * max(0.0, grams), radiated)
        if exchange is None:
            return None
        grams = _taken_j(course, pot_j_per_k, exchange, radiated, _FIT_C[1]) / _TAKES_J_PER_G
    return grams


def _fitted_w_per_k(
    course: Sequence[tuple[float, float, float]], capacity_j_per_k: float, radiated: float
) -> float | None:
    """Fit the exchange at 50 °C, W/K: heat kept over what drove it, summed while the pot is cool."""
    kept_j = drive_ks = 0.0
    count = 0
    for (from_s, from_c, from_oven_c), (to_s, to_c, oven_c) in pairwise(course):
        if from_c < _FIT_C[0] or to_c > _FIT_C[1]:
            continue
        kept_j += capacity_j_per_k * (to_c - from_c)
        drive_ks += _drive_k(0.5 * (from_c + to_c), 0.5 * (from_oven_c + oven_c), radiated) * (to_s - from_s)
        count += 1
    return kept_j / drive_ks if count >= _FEWEST and drive_ks > 0.0 else None


def _taken_j(
    course: Sequence[tuple[float, float, float]],
    pot_j_per_k: float,
    exchange: float,
    radiated: float,
    from_c_on: float,
    up_to_c: float = _END_C,
) -> float:
    """Give the heat that was given and not kept from `from_c_on` (°C) up to a temperature, J."""
    taken_j = 0.0
    for (from_s, from_c, from_oven_c), (to_s, to_c, oven_c) in pairwise(course):
        if from_c < from_c_on or to_c > up_to_c:
            continue
        given_w = exchange * _drive_k(0.5 * (from_c + to_c), 0.5 * (from_oven_c + oven_c), radiated)
        taken_j += given_w * (to_s - from_s) - pot_j_per_k * (to_c - from_c)
    return taken_j


def _drive_k(pot_c: float, oven_c: float, radiated: float) -> float:
    """Give what drives heat into the pot, K, of an exchange as it is at 50 °C."""
    pot_k, oven_k = pot_c + _ZERO_C_IN_K, oven_c + _ZERO_C_IN_K
    by_radiation = (oven_k**4 - pot_k**4) / (4.0 * _RADIATED_AT_K**3)
    return (1.0 - radiated) * (oven_c - pot_c) + radiated * by_radiation
