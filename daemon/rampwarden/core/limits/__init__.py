"""What a segment allows, and whether the temperature keeps to it."""

from rampwarden.core.limits.corridor import CorridorMeter, Edges, higher, lower
from rampwarden.core.limits.noise_meter import NoiseMeter
from rampwarden.core.limits.segment_limits import HEAT_ALARMS, SENSOR_ALARMS, SegmentConditions, sensor_findings
from rampwarden.core.limits.slope_fit import SlopeFit

__all__ = [
    "HEAT_ALARMS",
    "SENSOR_ALARMS",
    "CorridorMeter",
    "Edges",
    "NoiseMeter",
    "SegmentConditions",
    "SlopeFit",
    "higher",
    "lower",
    "sensor_findings",
]
