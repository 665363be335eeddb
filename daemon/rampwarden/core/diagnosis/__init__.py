"""What the course of the readings says about the sensor itself."""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.core.diagnosis.diagnosis import DIAGNOSES, Diagnosis
    from rampwarden.core.diagnosis.sensor_noise import SENSOR_NOISY
    from rampwarden.core.diagnosis.sensor_plausibility import SENSOR_REVERSED
    from rampwarden.core.diagnosis.sensor_stuck import SENSOR_STUCK
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "DIAGNOSES",
    "SENSOR_NOISY",
    "SENSOR_REVERSED",
    "SENSOR_STUCK",
    "Diagnosis",
]
