"""A gas bottle under way: chilled by its own boiling, it loses its pressure long before it is empty.

The model: gas boils off by the heat that comes through the wetted part of its steel, which is U·A·(ambient - liquid),
and by what liquid and steel give up in cooling, both at one temperature. Gas sold as propane may hold butane: it boils
at a lower pressure, and what is left grows richer in butane, so such a bottle fails sooner. Plan and watch step the
same bottle.

Charts of withdrawal state the temperature of the *liquid*, which under way is below the air's. Held against such a
chart as if its temperatures were the air's, the model is low, by 2 to 14 % down to half full, 12 to 21 % at a fifth and
17 to 31 % at a tenth; that is where its coefficient comes from, and no more of a proof than that.
"""

import math
from dataclasses import dataclass

from rampwarden.core.physics.saturation import (
    ATMOSPHERE_BAR,
    butane_in_gas,
    mixed_bar,
    propane_heat_of_boiling_j_per_kg,
)

# Net calorific value: the flue of a furnace stays hot, so the heat in its steam is lost. Gross is 50.3 MJ/kg, and by
# that are charts of withdrawal. Common practice, no source; tables agree within 0.3 %. Butane's is 1.5 % less.
NET_MJ_PER_KG = 46.35

HEAT_TRANSFER_W_PER_M2_K = 8.0
"""W/(m² K) from still air through steel to the liquid. Fitted to a chart of withdrawal (see the top); frost makes it
worse. Own arithmetic."""
# Liquid propane at 20 °C; its specific heat as a mean from -25 to 20 °C (both equation of state); that of common steel.
_LIQUID_KG_PER_M3 = 500.0
_LIQUID_J_PER_KG_K = 2490.0
_STEEL_J_PER_KG_K = 480.0

# kg/mol.
_PROPANE_KG_PER_MOL = 0.044096
_BUTANE_KG_PER_MOL = 0.058122

COLDEST_C = -60.0
"""°C. Colder than this the model stops: the bottle gives hardly anything, and the plan has failed long ago."""


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


class BottleUnderWay:
    """One bottle that is being drawn from: its `content_kg`, `liquid_c` (°C) and `butane_share` now."""

    __slots__ = ("_bottle", "_butane_mol", "butane_share", "content_kg", "liquid_c")

    def __init__(self, bottle: Bottle, liquid_c: float) -> None:
        self._bottle = bottle
        self.content_kg, self.liquid_c, self.butane_share = bottle.content_kg, liquid_c, bottle.butane_share
        self._butane_mol = _butane_mol(bottle.content_kg, bottle.butane_share)

    def copy(self) -> "BottleUnderWay":
        """Give one like it, to look ahead with."""
        other = BottleUnderWay(self._bottle, self.liquid_c)
        other.content_kg, other.butane_share, other._butane_mol = self.content_kg, self.butane_share, self._butane_mol
        return other

    def refill(self, content_kg: float) -> None:
        """Take its content for so much (kg): it was weighed; temperature and mixture stay."""
        self.content_kg = content_kg
        self._butane_mol = _butane_mol(content_kg, self.butane_share)

    @property
    def gauge_bar(self) -> float:
        """What a gauge on it shows, bar."""
        return pressure_bar(max(self.liquid_c, COLDEST_C), self.butane_share)

    def step(self, seconds: float, kg_per_s: float, ambient_c: float) -> None:
        """Draw gas for `seconds` in air of `ambient_c` (°C): one step of Euler, no longer than two minutes.

        Heat of boiling and specific heat are those of propane whatever the mixture: butane's differ by 3 and 8 %.
        """
        content_kg, liquid_c, bottle = self.content_kg, self.liquid_c, self._bottle
        taken_kg = min(kg_per_s * seconds, content_kg)
        heat_j = HEAT_TRANSFER_W_PER_M2_K * bottle.wetted_m2(content_kg) * (ambient_c - liquid_c) * seconds
        heat_j -= taken_kg * propane_heat_of_boiling_j_per_kg(liquid_c)
        self.liquid_c += heat_j / (content_kg * _LIQUID_J_PER_KG_K + bottle.steel_kg * _STEEL_J_PER_KG_K)
        self.content_kg = content_kg - taken_kg
        if self._butane_mol > 0.0:
            gone_mol = _butane_taken_mol(taken_kg, butane_in_gas(liquid_c, self.butane_share))
            self._butane_mol = max(0.0, self._butane_mol - gone_mol)
            self.butane_share = _share(self._butane_mol, self.content_kg)


def pressure_bar(liquid_c: float, butane_share: float = 0.0) -> float:
    """Give what the gauge shows over liquid propane that holds so much butane (of its moles), bar."""
    return mixed_bar(liquid_c, butane_share) - ATMOSPHERE_BAR


def _butane_mol(content_kg: float, share: float) -> float:
    return share * content_kg / (share * _BUTANE_KG_PER_MOL + (1.0 - share) * _PROPANE_KG_PER_MOL)


def _butane_taken_mol(taken_kg: float, share: float) -> float:
    """Give the moles of butane in so much gas with this share of its moles."""
    return share * taken_kg / (share * _BUTANE_KG_PER_MOL + (1.0 - share) * _PROPANE_KG_PER_MOL)


def _share(butane_mol: float, content_kg: float) -> float:
    """Give the share of butane in the liquid's moles; the last drop is whatever is left."""
    propane_mol = max(0.0, content_kg - butane_mol * _BUTANE_KG_PER_MOL) / _PROPANE_KG_PER_MOL
    return butane_mol / (butane_mol + propane_mol) if butane_mol + propane_mol > 0.0 else 0.0
