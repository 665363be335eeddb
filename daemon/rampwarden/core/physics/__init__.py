"""The pot's own physics, followed live by equations that plan and tests share: what a limit only stands in for.

Knows no schedule, no alarm desk and no other room of the core.
"""

from rampwarden.core.physics.pot_wall import PotWall, wall_words
from rampwarden.core.physics.wall_alarms import WALL_ALARMS, WALL_COOLING
from rampwarden.core.physics.wall_watch import WallWatch

__all__ = [
    "WALL_ALARMS",
    "WALL_COOLING",
    "PotWall",
    "WallWatch",
    "wall_words",
]
