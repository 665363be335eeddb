"""What a segment allows, and whether the temperature keeps to it."""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.core.limits.eased import mark_eased
    from rampwarden.core.limits.edges import Edge, Edges, higher, lower, tightest
    from rampwarden.core.limits.level_doubt import LevelDoubt
    from rampwarden.core.limits.limit_alarms import (
        CEILING_FORECAST,
        COOLING_FAST,
        HEAT_ALARMS,
        NOT_COOLING,
        NOT_HEATING,
        RAMP_FORECAST,
        RAMP_HIGH,
        RAMP_LOW,
        SOAK_DEVIATION,
        TEMPERATURE_HIGH,
    )
    from rampwarden.core.limits.noise_meter import NoiseMeter
    from rampwarden.core.limits.segment_limits import SegmentLimits
    from rampwarden.core.limits.slope_fit import DisplayedRamp
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "CEILING_FORECAST",
    "COOLING_FAST",
    "HEAT_ALARMS",
    "NOT_COOLING",
    "NOT_HEATING",
    "RAMP_FORECAST",
    "RAMP_HIGH",
    "RAMP_LOW",
    "SOAK_DEVIATION",
    "TEMPERATURE_HIGH",
    "DisplayedRamp",
    "Edge",
    "Edges",
    "LevelDoubt",
    "NoiseMeter",
    "SegmentLimits",
    "higher",
    "lower",
    "mark_eased",
    "tightest",
]
