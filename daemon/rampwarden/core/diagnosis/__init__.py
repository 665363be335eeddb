"""What the course of the readings says about sensor, flame and furnace."""

from rampwarden.core.diagnosis.diagnosis import DIAGNOSES, DOUBTING, HEAT_DIAGNOSES, Diagnosis
from rampwarden.core.diagnosis.furnace_events import FREEZING_POINTS_C

__all__ = [
    "DIAGNOSES",
    "DOUBTING",
    "FREEZING_POINTS_C",
    "HEAT_DIAGNOSES",
    "Diagnosis",
]
