"""Will the gas last: fuel by mass, and whether the bottle can give it off that fast.

Two tests, because they fail apart. A bottle with plenty left goes cold by its own boiling and loses its pressure long
before it is empty: a 9 kg bottle feeding 20 kW falls below 1 bar after some two hours with more than half of it left.

The model of a bottle: gas boils off by the heat that comes through the wetted part of its steel, which is
U·A·(ambient - liquid), and by what liquid and steel give up in cooling, both at one temperature. Gas sold as propane
may hold butane: it boils at a lower pressure, and what is left grows richer in butane, so such a bottle fails sooner.

Charts of withdrawal state the temperature of the *liquid*, which under way is below the air's. Held against such a
chart as if its temperatures were the air's, the model is low, by 2 to 14 % down to half full, 12 to 21 % at a fifth and
17 to 31 % at a tenth; that is where its coefficient comes from, and no more of a proof than that.
"""

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rampwarden.plan.saturation import (
    ATMOSPHERE_BAR,
    butane_in_gas,
    mixed_bar,
    mixture_boils_c,
    propane_heat_of_boiling_j_per_kg,
)

# Net calorific value: the flue of a furnace stays hot, so the heat in its steam is lost. Gross is 50.3 MJ/kg, and by
# that are charts of withdrawal. Common practice, no source; tables agree within 0.3 %. Butane's is 1.5 % less.
NET_MJ_PER_KG = 46.35
GROSS_MJ_PER_KG = 50.3

RESERVE = 0.15
"""Share of fuel kept back for what the plan does not know. Common practice, no source."""
HEEL = 0.05
"""Share of a full bottle that is not to be got out. Common practice, no source."""

# W/(m² K) from still air through steel to the liquid. Fitted here to a chart of withdrawal (see the top); frost makes
# it worse. Own arithmetic.
_HEAT_TRANSFER_W_PER_M2_K = 8.0
# Liquid propane at 20 °C; its specific heat as a mean from -25 to 20 °C (both equation of state); that of common steel.
_LIQUID_KG_PER_M3 = 500.0
_LIQUID_J_PER_KG_K = 2490.0
_STEEL_J_PER_KG_K = 480.0

# Outer diameters of common upright bottles by what they hold, kg and mm. Common practice, no source: a tape is better.
_USUAL_DIAMETERS = ((5.0, 230.0), (9.0, 310.0), (19.0, 320.0), (33.0, 375.0), (45.4, 375.0), (47.0, 395.0))

# kg/mol.
_PROPANE_KG_PER_MOL = 0.044096
_BUTANE_KG_PER_MOL = 0.058122

_STEP_S = 10.0
# Colder than this the model stops: the bottle gives hardly anything, and the plan has failed long ago.
_COLDEST_C = -60.0


@dataclass(frozen=True, slots=True)
class Bottle:
    """One bottle: what it holds when full, what is in it now, its steel, its outer diameter, and of what.

    `butane_share` is that of the liquid's moles, 0 to 1.
    """

    full_kg: float
    content_kg: float
    steel_kg: float
    diameter_m: float
    butane_share: float = 0.0

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

    `lowest_bar` is the least gauge pressure and `at_s` when it stood; `coldest_c` the liquid's least temperature, °C;
    `short_at_s` when it first fell below what is needed, None if it never did, and `short_left_kg` what was in it then;
    `left_kg` is what is in it at the end.
    """

    lowest_bar: float
    at_s: float
    short_at_s: float | None
    short_left_kg: float
    left_kg: float
    coldest_c: float


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


def pressure_bar(liquid_c: float, butane_share: float = 0.0) -> float:
    """Give what the gauge shows over liquid propane that holds so much butane (of its moles), bar."""
    return mixed_bar(liquid_c, butane_share) - ATMOSPHERE_BAR


def steady_kg_per_s(bottle: Bottle, content_kg: float, ambient_c: float, liquid_c: float) -> float:
    """Give what boils off for good with the liquid at `liquid_c`, kg/s: U A (ambient - liquid)/heat of boiling.

    The heat of boiling is taken at ambient, as in the fit of U.
    """
    heat_w = _HEAT_TRANSFER_W_PER_M2_K * bottle.wetted_m2(content_kg) * (ambient_c - liquid_c)
    return max(0.0, heat_w) / propane_heat_of_boiling_j_per_kg(ambient_c)


def steady_kw(bottle: Bottle, content_kg: float, ambient_c: float, needed_bar: float) -> float:
    """Give the burner power a bottle feeds for as long as the fill stays, kW, keeping `needed_bar` gauge."""
    liquid_c = mixture_boils_c(needed_bar + ATMOSPHERE_BAR, bottle.butane_share)
    return steady_kg_per_s(bottle, content_kg, ambient_c, liquid_c) * NET_MJ_PER_KG * 1000.0


def withdraw(
    bottle: Bottle, ambient_c: float, needed_bar: float, demands: Sequence[Demand], liquid_c: float | None = None
) -> Withdrawal:
    """Follow a bottle through its demands, in steps of ten seconds (Euler; within 1 %).

    Its liquid begins at `liquid_c` (°C), at ambient where none is given. Heat of boiling and specific heat are those of
    propane whatever the mixture: butane's differ by 3 and 8 %.
    """
    liquid_c = ambient_c if liquid_c is None else liquid_c
    content_kg, butane_mol = bottle.content_kg, _butane_mol(bottle)
    share = bottle.butane_share
    coldest_c, lowest_bar, lowest_at_s, now_s = liquid_c, pressure_bar(liquid_c, share), 0.0, 0.0
    short_at_s: float | None = 0.0 if lowest_bar < needed_bar else None
    short_left_kg = content_kg if short_at_s is not None else 0.0
    for step_s, kg_per_s in _steps(demands):
        taken_kg = min(kg_per_s * step_s, content_kg)
        butane_mol = max(0.0, butane_mol - _butane_taken_mol(taken_kg, butane_in_gas(liquid_c, share)))
        heat_j = _HEAT_TRANSFER_W_PER_M2_K * bottle.wetted_m2(content_kg) * (ambient_c - liquid_c) * step_s
        heat_j -= taken_kg * propane_heat_of_boiling_j_per_kg(liquid_c)
        liquid_c += heat_j / (content_kg * _LIQUID_J_PER_KG_K + bottle.steel_kg * _STEEL_J_PER_KG_K)
        content_kg -= taken_kg
        share = _share(butane_mol, content_kg)
        now_s += step_s
        coldest_c = min(coldest_c, liquid_c)
        if liquid_c < _COLDEST_C:
            lowest_bar, lowest_at_s = min((lowest_bar, lowest_at_s), (pressure_bar(_COLDEST_C, share), now_s))
        else:
            lowest_bar, lowest_at_s = min((lowest_bar, lowest_at_s), (pressure_bar(liquid_c, share), now_s))
        is_empty = kg_per_s > 0.0 and content_kg <= 0.0
        if short_at_s is None and (pressure_bar(max(liquid_c, _COLDEST_C), share) < needed_bar or is_empty):
            short_at_s, short_left_kg = now_s, content_kg
        if liquid_c < _COLDEST_C:
            break
    return Withdrawal(lowest_bar, lowest_at_s, short_at_s, short_left_kg, content_kg, coldest_c)


def _butane_mol(bottle: Bottle) -> float:
    share = bottle.butane_share
    return share * bottle.content_kg / (share * _BUTANE_KG_PER_MOL + (1.0 - share) * _PROPANE_KG_PER_MOL)


def _butane_taken_mol(taken_kg: float, share: float) -> float:
    """Give the moles of butane in so much gas with this share of its moles."""
    return share * taken_kg / (share * _BUTANE_KG_PER_MOL + (1.0 - share) * _PROPANE_KG_PER_MOL)


def _share(butane_mol: float, content_kg: float) -> float:
    """Give the share of butane in the liquid's moles; the last drop is whatever is left."""
    propane_mol = max(0.0, content_kg - butane_mol * _BUTANE_KG_PER_MOL) / _PROPANE_KG_PER_MOL
    return butane_mol / (butane_mol + propane_mol) if butane_mol + propane_mol > 0.0 else 0.0


def _steps(demands: Sequence[Demand]) -> Iterator[tuple[float, float]]:
    """Give steps of time, s, with the gas taken in them, kg/s."""
    for demand in demands:
        left_s = demand.seconds
        kg_per_s = demand.kw / (NET_MJ_PER_KG * 1000.0)
        while left_s > 0.0:
            step_s = min(_STEP_S, left_s)
            yield step_s, kg_per_s
            left_s -= step_s
