"""The pot's own physics, followed live by equations that plan and tests share: what a limit only stands in for.

Knows no schedule, no alarm desk and no other room of the core.
"""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.core.physics.bottle import (
        COLDEST_C,
        HEAT_TRANSFER_W_PER_M2_K,
        NET_MJ_PER_KG,
        Bottle,
        BottleUnderWay,
    )
    from rampwarden.core.physics.bottle_watch import BottleWatch, Burning, gas_words
    from rampwarden.core.physics.gas_supply import OTHERWISE, GasSupply, burns_kw
    from rampwarden.core.physics.physics_alarms import BOTTLE_SHORT, PHYSICS_ALARMS, WALL_COOLING
    from rampwarden.core.physics.pot_wall import PotWall, wall_words
    from rampwarden.core.physics.saturation import (
        ATMOSPHERE_BAR,
        WATER,
        mixture_boils_c,
        propane_heat_of_boiling_j_per_kg,
    )
    from rampwarden.core.physics.wall_watch import WallWatch
    from rampwarden.core.physics.water_balance import DryHeat, WaterGone, learn_dry_heat, water_gone
    from rampwarden.core.physics.water_watch import WaterWatch, balance_words
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "ATMOSPHERE_BAR",
    "BOTTLE_SHORT",
    "COLDEST_C",
    "HEAT_TRANSFER_W_PER_M2_K",
    "NET_MJ_PER_KG",
    "OTHERWISE",
    "PHYSICS_ALARMS",
    "WALL_COOLING",
    "WATER",
    "Bottle",
    "BottleUnderWay",
    "BottleWatch",
    "Burning",
    "DryHeat",
    "GasSupply",
    "PotWall",
    "WallWatch",
    "WaterGone",
    "WaterWatch",
    "balance_words",
    "burns_kw",
    "gas_words",
    "learn_dry_heat",
    "mixture_boils_c",
    "propane_heat_of_boiling_j_per_kg",
    "wall_words",
    "water_gone",
]
