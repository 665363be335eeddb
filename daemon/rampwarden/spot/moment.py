"""What a spot check is held against: the thermocouple of the same moment."""

from rampwarden.core.model import HeatStatus, Quality

ROOM = "20 C"
"""What a surface reflects where nobody says otherwise."""
_OLD_S = 10.0
"""s. An older reading of the thermocouple, or an older snapshot, is not of this moment."""


def thermocouple_now(status: HeatStatus, age_s: float = 0.0) -> float | None:
    """Give the thermocouple's own temperature (°C) by a status of `age_s` (s) ago; None for an old one.

    None, too, where it is not to be believed, and where another probe stands in: that is a guess of it.
    """
    old = age_s > _OLD_S or status.read_s is None or status.time_s - status.read_s > _OLD_S
    return None if old or status.quality is not Quality.GOOD or status.standing_in is not None else status.temp_c
