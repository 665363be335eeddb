"""What a segment allows, and whether the temperature keeps to it."""

from rampwarden.core.limits.corridor import CorridorMeter, Edges, higher, lower
from rampwarden.core.limits.limit_alarms import HEAT_ALARMS
from rampwarden.core.limits.noise_meter import NoiseMeter, NoiseParameters
from rampwarden.core.limits.segment_limits import SegmentConditions
from rampwarden.core.limits.slope_fit import SlopeFit

__all__ = [
    "HEAT_ALARMS",
    "CorridorMeter",
    "Edges",
    "NoiseMeter",
    "NoiseParameters",
    "SegmentConditions",
    "SlopeFit",
    "higher",
    "lower",
]
