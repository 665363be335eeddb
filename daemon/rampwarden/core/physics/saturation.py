"""Pressure over boiling propane and boiling water, and the heat that boiling takes.

Both pressures by one published form, ln(p/p_c) = (T_c/T) · sum of n · (1 - T/T_c)^e. Bottles are reckoned in gauge
pressure, because that is what a gauge shows; steam in absolute.
"""

import math
from dataclasses import dataclass

ATMOSPHERE_BAR = 1.01325
_ZERO_C_IN_K = 273.15
_CLOSE_C = 1e-6


@dataclass(frozen=True, slots=True)
class Saturation:
    """One fluid's saturation curve between `lowest_c` and its critical point, bar absolute."""

    name: str
    lowest_c: float
    critical_k: float
    critical_bar: float
    terms: tuple[tuple[float, float], ...]

    def bar(self, temp_c: float) -> float:
        """Give the pressure over the boiling liquid, bar absolute; raises `ValueError` outside the curve."""
        temp_k = temp_c + _ZERO_C_IN_K
        if temp_c < self.lowest_c or temp_k > self.critical_k:
            raise ValueError(
                f"{self.name} boils between {self.lowest_c:g} and {self.critical_k - _ZERO_C_IN_K:.1f} °C, "
                f"not at {temp_c:g} °C"
            )
        theta = 1.0 - temp_k / self.critical_k
        exponent = sum(factor * theta**power for factor, power in self.terms)
        return self.critical_bar * math.exp(self.critical_k / temp_k * exponent)

    def temp_c(self, bar: float) -> float:
        """Give the temperature at which it boils under `bar` absolute, °C, by halving; `ValueError` outside."""
        low_c, high_c = self.lowest_c, self.critical_k - _ZERO_C_IN_K
        if not self.bar(low_c) <= bar <= self.critical_bar:
            raise ValueError(f"{self.name} does not boil at {bar:g} bar absolute")
        while high_c - low_c > _CLOSE_C:
            middle_c = 0.5 * (low_c + high_c)
            if self.bar(middle_c) < bar:
                low_c = middle_c
            else:
                high_c = middle_c
        return 0.5 * (low_c + high_c)


PROPANE = Saturation(
    name="propane",
    lowest_c=-100.0,
    critical_k=369.89,
    critical_bar=42.512,
    terms=((-6.7722, 1.0), (1.6938, 1.5), (-1.3341, 2.2), (-3.1876, 4.8), (0.94937, 6.2)),
)
"""Pure propane. Source: Lemmon, McLinden and Wagner, Journal of Chemical and Engineering Data 54 (2009) 3141.

What is sold as propane may hold butane, and then boils at a lower pressure than this (see `mixed_bar`).
"""

BUTANE = Saturation(
    name="butane",
    lowest_c=-100.0,
    critical_k=425.125,
    critical_bar=37.96,
    terms=((-7.17616903, 1.0), (2.53635336, 1.5), (-2.07532869, 2.0), (-2.82241113, 4.5)),
)
"""Normal butane. Source: Bücker and Wagner, Journal of Physical and Chemical Reference Data 35 (2006) 929.

Coefficients from memory; held against an equation of state in the tests.
"""

WATER = Saturation(
    name="water",
    lowest_c=0.01,
    critical_k=647.096,
    critical_bar=220.64,
    terms=(
        (-7.85951783, 1.0),
        (1.84408259, 1.5),
        (-11.7866497, 3.0),
        (22.6807411, 3.5),
        (-15.9618719, 4.0),
        (1.80122502, 7.5),
    ),
)
"""Source: Wagner and Pruss, Journal of Physical and Chemical Reference Data 22 (1993) 783, as adopted by IAPWS."""


def mixed_bar(temp_c: float, butane_share: float) -> float:
    """Give the pressure over liquid propane that holds butane, bar absolute.

    Parameters
    ----------
    temp_c : float
        °C of the liquid, -100 to 96; `ValueError` outside.
    butane_share : float
        Of the moles of the liquid, 0 to 1.

    Notes
    -----
    Raoult's law: each gives its own pressure by its share. Within 5 % of an equation of state for mixtures from -30 to
    20 °C.
    """
    return (1.0 - butane_share) * PROPANE.bar(temp_c) + butane_share * BUTANE.bar(temp_c)


def butane_in_gas(temp_c: float, butane_share: float) -> float:
    """Give the share of butane in what boils off, of its moles: less than in the liquid, which grows richer in it."""
    return butane_share * BUTANE.bar(temp_c) / mixed_bar(temp_c, butane_share)


def mixture_boils_c(bar: float, butane_share: float) -> float:
    """Give the temperature at which the mixture boils under `bar` absolute, °C, by halving; `ValueError` outside."""
    low_c, high_c = PROPANE.lowest_c, PROPANE.critical_k - _ZERO_C_IN_K
    if not mixed_bar(low_c, butane_share) <= bar <= mixed_bar(high_c, butane_share):
        raise ValueError(f"propane with butane does not boil at {bar:g} bar absolute")
    while high_c - low_c > _CLOSE_C:
        middle_c = 0.5 * (low_c + high_c)
        if mixed_bar(middle_c, butane_share) < bar:
            low_c = middle_c
        else:
            high_c = middle_c
    return 0.5 * (low_c + high_c)


def propane_heat_of_boiling_j_per_kg(temp_c: float) -> float:
    """Give the heat that boiling a kilogram of propane takes, J/kg.

    Parameters
    ----------
    temp_c : float
        °C, -50 to 50. Within 2 % of the equation of state there.

    Notes
    -----
    375 kJ/kg at 0 °C (equation of state), carried to other temperatures by Watson's rule, power 0.38.
    """
    share = (PROPANE.critical_k - _ZERO_C_IN_K - temp_c) / (PROPANE.critical_k - _ZERO_C_IN_K)
    return 375_000.0 * float(share**0.38)
