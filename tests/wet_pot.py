"""A pot with water in its wall, in an oven: it stands near 100 °C while the water leaves, and then runs after its oven.

One lump of 5 kg, heated by exchange; water leaves as fast as its vapour pressure drives it out and the heat allows.
Coefficients are assumptions that give the slopes of a finer model (own arithmetic).
"""

import math
import random
from collections.abc import Callable, Iterator
from itertools import accumulate

from rampwarden.core.model import Reading

_POT_J_PER_K = 5.0 * 900.0
_FOLLOWS_S = 1100.0
_LATENT_J_PER_G = 2257.0 + 60.0 * 4.19
_WATER_J_PER_G_K = 4.19
# Out of a wall that is still full, g/s for each e-fold by which vapour has thinned the air (Stefan's flow).
_DRIVEN_G_PER_S = 0.03
_AIR_BAR = 1.013


def pressure_bar(temp_c: float) -> float:
    """Give water's vapour pressure: Clausius and Clapeyron's law from 1.013 bar at 100 °C (own arithmetic)."""
    return 1.013 * math.exp(4890.0 * (1.0 / 373.15 - 1.0 / (temp_c + 273.15)))


def climbing_oven(k_per_h: float, to_c: float = 200.0) -> Callable[[float], float]:
    """Give an oven that climbs from 20 °C at a steady pace and then stands."""
    return lambda time_s: min(20.0 + k_per_h / 3600.0 * time_s, to_c)


def wet_pot_c(grams: float, oven_c: Callable[[float], float], seconds: int) -> Iterator[float]:
    """Give the pot's temperature each second, °C."""
    pot_c, water_g = 20.0, grams
    for second in range(seconds):
        yield pot_c
        given_w = _POT_J_PER_K / _FOLLOWS_S * (oven_c(float(second)) - pot_c)
        leaves_g = 0.0
        if water_g > 0.0:
            share = math.sqrt(water_g / grams)
            driven = math.log(_AIR_BAR / max(_AIR_BAR - pressure_bar(pot_c), 0.002))
            leaves_g = min(water_g, _DRIVEN_G_PER_S * share * driven)
        pot_c += (given_w - leaves_g * _LATENT_J_PER_G) / (_POT_J_PER_K + water_g * _WATER_J_PER_G_K)
        water_g -= leaves_g


def readings(course: Iterator[float], noise_c: float = 0.15, seed: str = "wet pot") -> Iterator[Reading]:
    """Read a course every four seconds, with a board's noise."""
    dice = random.Random(seed)
    for second, temp_c in enumerate(course):
        if second % 4 == 0:
            yield Reading(float(second), temp_c=round((temp_c + dice.gauss(0.0, noise_c)) / 0.25) * 0.25)


def slope_c_per_s(course: list[float], low_c: float, high_c: float) -> float:
    """Give the mean slope between two temperatures on the way up."""
    highest = list(accumulate(course, max))
    from_s = next(second for second, temp_c in enumerate(highest) if temp_c >= low_c)
    to_s = next(second for second, temp_c in enumerate(highest) if temp_c >= high_c)
    return (high_c - low_c) / (to_s - from_s)
