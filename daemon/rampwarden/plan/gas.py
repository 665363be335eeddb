"""Will the gas last: fuel by mass, and whether the bottle can give it off that fast.

Two tests, because they fail apart. A bottle with plenty left goes cold by its own boiling and loses its pressure long
before it is empty: a 9 kg bottle feeding 20 kW falls below 1 bar after some two hours with more than half of it left.

The model of a bottle: gas boils off by the heat that comes through the wetted part of its steel, which is
U·A·(ambient - liquid), and by what liquid and steel give up in cooling, both at one temperature. It errs safe: against
the published chart of continuous withdrawal from upright cylinders it is low, by 2 to 14 % down to half full, 12 to
21 % at a fifth and 17 to 31 % at a tenth.
"""

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rampwarden.plan.saturation import ATMOSPHERE_BAR, PROPANE, propane_heat_of_boiling_j_per_kg

# Net calorific value: the flue of a furnace stays hot, so the heat in its steam is lost. Gross is 50.3 MJ/kg, and by
# that are published withdrawal charts. Source: propane data pages; common to all of them within 0.3 %.
NET_MJ_PER_KG = 46.35
GROSS_MJ_PER_KG = 50.3

RESERVE = 0.15
"""Share of fuel kept back for what the plan does not know. Common practice, no source."""
HEEL = 0.05
"""Share of a full bottle that is not to be got out. Common practice, no source."""

# W/(m² K) from still air through steel to the liquid. Fitted here to the published chart; frost makes it worse.
_HEAT_TRANSFER_W_PER_M2_K = 8.0
# Liquid propane at 20 °C; its specific heat as a mean from -25 to 20 °C (both equation of state); that of common steel.
_LIQUID_KG_PER_M3 = 500.0
_LIQUID_J_PER_KG_K = 2490.0
_STEEL_J_PER_KG_K = 480.0

# Outer diameters of common upright bottles by what they hold, kg and mm. Common practice, no source: a tape is better.
_USUAL_DIAMETERS = ((5.0, 230.0), (9.0, 310.0), (19.0, 320.0), (33.0, 375.0), (45.4, 375.0), (47.0, 395.0))

_STEP_S = 10.0
# Colder than this the model stops: the bottle gives hardly anything, and the plan has failed long ago.
_COLDEST_C = -60.0


@dataclass(frozen=True, slots=True)
class Bottle:
    """One bottle: what it holds when full, what is in it now, its steel, and its outer diameter."""

    full_kg: float
    content_kg: float
    steel_kg: float
    diameter_m: float

    def wetted_m2(self, content_kg: float) -> float:
        """Give the wetted wall of an upright bottle, bottom included, m²."""
        volume_m3 = content_kg / _LIQUID_KG_PER_M3
        return 4.0 * volume_m3 / self.diameter_m + math.pi * self.diameter_m**2 / 4.0

    def usable_kg(self) -> float:
        """Give what can be got out, kg: the content without the heel."""
        return max(0.0, self.content_kg - HEEL * self.full_kg)


@dataclass(frozen=True, slots=True)
class Demand:
    """Gas for `seconds` at a burner power, kW net, together from all bottles."""

    seconds: float
    kw: float


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """How one bottle fares under a series of demands.

    `lowest_bar` is the least gauge pressure and `at_s` when it stood; `short_at_s` when it first fell below what is
    needed, None if it never did, and `short_left_kg` what was in it then; `left_kg` is what is in it at the end.
    """

    lowest_bar: float
    at_s: float
    short_at_s: float | None
    short_left_kg: float
    left_kg: float


def usual_diameter_m(full_kg: float) -> float:
    """Give the usual outer diameter, m, of a bottle that holds so many kg; straight lines between common sizes."""
    sizes = [size for size, _ in _USUAL_DIAMETERS]
    after = min(max(bisect_right(sizes, full_kg), 1), len(sizes) - 1)
    (low_kg, low_mm), (high_kg, high_mm) = _USUAL_DIAMETERS[after - 1], _USUAL_DIAMETERS[after]
    share = min(max((full_kg - low_kg) / (high_kg - low_kg), 0.0), 1.0)
    return (low_mm + share * (high_mm - low_mm)) / 1000.0


def fuel_kg(demands: Sequence[Demand]) -> float:
    """Give the fuel for a series of demands without any reserve, kg.

    >>> round(fuel_kg([Demand(3600.0, 10.0)]), 2)
    0.78
    """
    return sum(demand.kw * demand.seconds for demand in demands) / (NET_MJ_PER_KG * 1000.0)


def pressure_bar(liquid_c: float) -> float:
    """Give what the gauge shows over liquid propane, bar."""
    return PROPANE.bar(liquid_c) - ATMOSPHERE_BAR


def steady_kg_per_s(bottle: Bottle, content_kg: float, ambient_c: float, liquid_c: float) -> float:
    """Give what boils off for good with the liquid at `liquid_c`, kg/s: U A (ambient - liquid)/heat of boiling.

    The heat of boiling is taken at ambient, as in the fit of U.
    """
    heat_w = _HEAT_TRANSFER_W_PER_M2_K * bottle.wetted_m2(content_kg) * (ambient_c - liquid_c)
    return max(0.0, heat_w) / propane_heat_of_boiling_j_per_kg(ambient_c)


def steady_kw(bottle: Bottle, content_kg: float, ambient_c: float, needed_bar: float) -> float:
    """Give the burner power a bottle feeds for as long as the fill stays, kW, keeping `needed_bar` gauge."""
    liquid_c = PROPANE.temp_c(needed_bar + ATMOSPHERE_BAR)
    return steady_kg_per_s(bottle, content_kg, ambient_c, liquid_c) * NET_MJ_PER_KG * 1000.0


def withdraw(bottle: Bottle, ambient_c: float, needed_bar: float, demands: Sequence[Demand]) -> Withdrawal:
    """Follow a bottle that starts at ambient through its demands, in steps of ten seconds (Euler; within 1 %)."""
    needed_c = PROPANE.temp_c(needed_bar + ATMOSPHERE_BAR)
    content_kg, liquid_c = bottle.content_kg, ambient_c
    lowest_c, lowest_at_s, now_s = liquid_c, 0.0, 0.0
    short_at_s: float | None = 0.0 if liquid_c < needed_c else None
    short_left_kg = content_kg if short_at_s is not None else 0.0
    for step_s, kg_per_s in _steps(demands):
        taken_kg = min(kg_per_s * step_s, content_kg)
        heat_j = _HEAT_TRANSFER_W_PER_M2_K * bottle.wetted_m2(content_kg) * (ambient_c - liquid_c) * step_s
        heat_j -= taken_kg * propane_heat_of_boiling_j_per_kg(liquid_c)
        liquid_c += heat_j / (content_kg * _LIQUID_J_PER_KG_K + bottle.steel_kg * _STEEL_J_PER_KG_K)
        content_kg -= taken_kg
        now_s += step_s
        if liquid_c < lowest_c:
            lowest_c, lowest_at_s = liquid_c, now_s
        if short_at_s is None and (liquid_c < needed_c or (kg_per_s > 0.0 and content_kg <= 0.0)):
            short_at_s, short_left_kg = now_s, content_kg
        if liquid_c < _COLDEST_C:
            break
    return Withdrawal(pressure_bar(lowest_c), lowest_at_s, short_at_s, short_left_kg, content_kg)


def _steps(demands: Sequence[Demand]) -> Iterator[tuple[float, float]]:
    """Give steps of time, s, with the gas taken in them, kg/s."""
    for demand in demands:
        left_s = demand.seconds
        kg_per_s = demand.kw / (NET_MJ_PER_KG * 1000.0)
        while left_s > 0.0:
            step_s = min(_STEP_S, left_s)
            yield step_s, kg_per_s
            left_s -= step_s
