"""One probe standing in for another that has failed: what was learnt of both, and the guess with its uncertainty."""

from rampwarden.core.standing_in.following import AT_ONCE, EVERY_LAW, Laws
from rampwarden.core.standing_in.parting import LearntParting, PartingMeter, Wander
from rampwarden.core.standing_in.stand_in import StandIn
from rampwarden.core.standing_in.standing_in_alarm import STANDING_IN, STANDING_IN_ALARMS

__all__ = [
    "AT_ONCE",
    "EVERY_LAW",
    "STANDING_IN",
    "STANDING_IN_ALARMS",
    "Laws",
    "LearntParting",
    "PartingMeter",
    "StandIn",
    "Wander",
]
