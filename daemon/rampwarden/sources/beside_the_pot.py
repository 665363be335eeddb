"""What other probes feel in a rehearsal: the furnace's gas, the gas bottle's wall, the room.

Owns the physics beside the pot's own; the furnace is looked at and never changed. It must not know boards or frames.
Plausible, like the model furnace: common practice, no source.
"""

import math
from enum import StrEnum

from rampwarden.core.physics import NET_MJ_PER_KG, Bottle, BottleUnderWay
from rampwarden.sources.furnace_model import CHAMBER_AT_ARRIVAL_C, ROOM_C, FurnaceModel, PotPlace

# A bare-ended couple in moving gas, and one taped to a steel wall.
_IN_GAS_TAU_S = 5.0
_ON_STEEL_TAU_S = 60.0
# Warm air from the furnace reaches the place where the room is measured.
_ROOM_SHARE, _ROOM_TAU_S = 0.006, 1800.0
# About half of what a burner gives stays in the chamber, as the model furnace has it.
_STAYS = 0.5
# The usual bottle of a workshop where nobody has said another: 11 kg of propane in 12 kg of steel, 30 cm across.
USUAL_BOTTLE_KG = 11.0
_STEEL_PER_CONTENT, _DIAMETER_M = 1.1, 0.3


class BesidePlace(StrEnum):
    """Where a probe beside the pot's stands."""

    CHAMBER = "chamber"
    BOTTLE = "bottle"
    ROOM = "room"


class BesideThePot:
    """Temperatures beside the pot, as their probes feel them, °C: `felt_c` by place. Nothing here is noisy."""

    def __init__(self, furnace: FurnaceModel, bottle_kg: float = USUAL_BOTTLE_KG) -> None:
        self._furnace = furnace
        bottle = Bottle(bottle_kg, bottle_kg, _STEEL_PER_CONTENT * bottle_kg, _DIAMETER_M)
        self.bottle = BottleUnderWay(bottle, ROOM_C)
        self.felt_c = {
            BesidePlace.CHAMBER: furnace.chamber_c,
            BesidePlace.BOTTLE: ROOM_C,
            BesidePlace.ROOM: ROOM_C,
        }

    def step(self, seconds: float) -> None:
        """Let `seconds` pass, with the furnace as it stands now."""
        furnace = self._furnace
        # The probe goes over with the pot, and hangs in the warmed furnace first.
        chamber_c = CHAMBER_AT_ARRIVAL_C if furnace.place is PotPlace.OPEN_AIR else furnace.chamber_c
        if self.bottle.content_kg > 0.0:
            burner_w = furnace.heat_w * furnace.gas_pressure / _STAYS if furnace.burning else 0.0
            self.bottle.step(seconds, burner_w / (NET_MJ_PER_KG * 1e6), ROOM_C)
        room_c = ROOM_C + _ROOM_SHARE * (furnace.chamber_c - ROOM_C)
        self._follow(BesidePlace.CHAMBER, chamber_c, _IN_GAS_TAU_S, seconds)
        self._follow(BesidePlace.BOTTLE, self.bottle.liquid_c, _ON_STEEL_TAU_S, seconds)
        self._follow(BesidePlace.ROOM, room_c, _ROOM_TAU_S, seconds)

    def _follow(self, place: BesidePlace, true_c: float, tau_s: float, seconds: float) -> None:
        self.felt_c[place] += (true_c - self.felt_c[place]) * -math.expm1(-seconds / tau_s)
