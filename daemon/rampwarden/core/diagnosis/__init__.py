"""What the course of the readings says about the sensor itself."""

from rampwarden.core.diagnosis.diagnosis import DIAGNOSES, Diagnosis, load_fits
from rampwarden.core.diagnosis.sensor_noise import SENSOR_NOISY
from rampwarden.core.diagnosis.sensor_plausibility import SENSOR_REVERSED
from rampwarden.core.diagnosis.sensor_stuck import SENSOR_STUCK

__all__ = [
    "DIAGNOSES",
    "SENSOR_NOISY",
    "SENSOR_REVERSED",
    "SENSOR_STUCK",
    "Diagnosis",
    "load_fits",
]
