"""Will the gas last: fuel by mass, and whether the bottle can give it off that fast.

Two tests, because they fail apart. A bottle with plenty left goes cold by its own boiling and loses its pressure long
before it is empty: a 9 kg bottle feeding 20 kW falls below 1 bar after some two hours with more than half of it left.
The model of a bottle is the watch's own (`core.physics`).
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rampwarden.core.physics import (
    ATMOSPHERE_BAR,
    COLDEST_C,
    HEAT_TRANSFER_W_PER_M2_K,
    NET_MJ_PER_KG,
    Bottle,
    BottleUnderWay,
    mixture_boils_c,
    propane_heat_of_boiling_j_per_kg,
)

GROSS_MJ_PER_KG = 50.3
"""By which charts of withdrawal are made; a furnace's flue carries off the difference. Common practice, no source."""

RESERVE = 0.15
"""Share of fuel kept back for what the plan does not know. Common practice, no source."""
HEEL = 0.05
"""Share of a full bottle that is not to be got out. Common practice, no source."""

# Outer diameters of common upright bottles by what they hold, kg and mm. Common practice, no source: a tape is better.
_USUAL_DIAMETERS = ((5.0, 230.0), (9.0, 310.0), (19.0, 320.0), (33.0, 375.0), (45.4, 375.0), (47.0, 395.0))

_STEP_S = 10.0


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


def usable_kg(bottle: Bottle) -> float:
    """Give what can be got out, kg: the content without the heel."""
    return max(0.0, bottle.content_kg - HEEL * bottle.full_kg)


def steady_kg_per_s(bottle: Bottle, content_kg: float, ambient_c: float, liquid_c: float) -> float:
    """Give what boils off for good with the liquid at `liquid_c`, kg/s: U A (ambient - liquid)/heat of boiling.

    The heat of boiling is taken at ambient, as in the fit of U.
    """
    heat_w = HEAT_TRANSFER_W_PER_M2_K * bottle.wetted_m2(content_kg) * (ambient_c - liquid_c)
    return max(0.0, heat_w) / propane_heat_of_boiling_j_per_kg(ambient_c)


def steady_kw(bottle: Bottle, content_kg: float, ambient_c: float, needed_bar: float) -> float:
    """Give the burner power a bottle feeds for as long as the fill stays, kW, keeping `needed_bar` gauge."""
    liquid_c = mixture_boils_c(needed_bar + ATMOSPHERE_BAR, bottle.butane_share)
    return steady_kg_per_s(bottle, content_kg, ambient_c, liquid_c) * NET_MJ_PER_KG * 1000.0


def withdraw(
    bottle: Bottle, ambient_c: float, needed_bar: float, demands: Sequence[Demand], liquid_c: float | None = None
) -> Withdrawal:
    """Follow a bottle through its demands, in steps of ten seconds (Euler; within 1 %).

    Its liquid begins at `liquid_c` (°C), at ambient where none is given.
    """
    under_way = BottleUnderWay(bottle, ambient_c if liquid_c is None else liquid_c)
    coldest_c, lowest_bar, lowest_at_s, now_s = under_way.liquid_c, under_way.gauge_bar, 0.0, 0.0
    short_at_s: float | None = 0.0 if lowest_bar < needed_bar else None
    short_left_kg = under_way.content_kg if short_at_s is not None else 0.0
    for step_s, kg_per_s in _steps(demands):
        under_way.step(step_s, kg_per_s, ambient_c)
        now_s += step_s
        coldest_c = min(coldest_c, under_way.liquid_c)
        bar = under_way.gauge_bar
        lowest_bar, lowest_at_s = min((lowest_bar, lowest_at_s), (bar, now_s))
        is_empty = kg_per_s > 0.0 and under_way.content_kg <= 0.0
        if short_at_s is None and (bar < needed_bar or is_empty):
            short_at_s, short_left_kg = now_s, under_way.content_kg
        if under_way.liquid_c < COLDEST_C:
            break
    return Withdrawal(lowest_bar, lowest_at_s, short_at_s, short_left_kg, under_way.content_kg, coldest_c)


def _steps(demands: Sequence[Demand]) -> Iterator[tuple[float, float]]:
    """Give steps of time, s, with the gas taken in them, kg/s."""
    for demand in demands:
        left_s = demand.seconds
        kg_per_s = demand.kw / (NET_MJ_PER_KG * 1000.0)
        while left_s > 0.0:
            step_s = min(_STEP_S, left_s)
            yield step_s, kg_per_s
            left_s -= step_s
