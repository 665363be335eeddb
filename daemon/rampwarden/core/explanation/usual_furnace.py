"""What is taken of any furnace, however large: how fast it falls by itself, and where its metal melts."""

from rampwarden.core.model import FREEZING_POINTS_C

NEAR_C = 15.0
"""°C about a metal's point: a climb that stands still there is likelier a plateau. Common practice, no source."""


def falls_c_per_s(temp_c: float) -> float:
    """Give how fast a shut furnace without heat falls at a temperature (°C), °C/s: by radiation, own arithmetic."""
    return 0.3 * ((temp_c + 273.0) / 1350.0) ** 3


def beyond_point_c(temp_c: float) -> float:
    """Give how far a temperature (°C) lies above the nearest metal's point, °C; negative below it."""
    return min((temp_c - point_c for point_c in FREEZING_POINTS_C.values()), key=abs)
