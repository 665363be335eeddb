"""What the course of the readings says about sensor, flame and furnace."""

from rampwarden.core.diagnosis.diagnosis import DIAGNOSES, HEAT_DIAGNOSES, Diagnosis
from rampwarden.core.diagnosis.flame import FLAME_OUT
from rampwarden.core.diagnosis.furnace_events import FREEZING_POINTS_C
from rampwarden.core.diagnosis.heat_failing import HEAT_FAILING
from rampwarden.core.diagnosis.sensor_plausibility import SENSOR_REVERSED

__all__ = [
    "DIAGNOSES",
    "FLAME_OUT",
    "FREEZING_POINTS_C",
    "HEAT_DIAGNOSES",
    "HEAT_FAILING",
    "SENSOR_REVERSED",
    "Diagnosis",
]
