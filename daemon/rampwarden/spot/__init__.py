"""Spot checks: a spot thermometer's reading corrected, held against the thermocouple, and kept with the heat."""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face
from rampwarden.spot.doubt import Suspect, doubt, spot_uncertainty_c

if TYPE_CHECKING:
    from rampwarden.spot.moment import ROOM, thermocouple_now
    from rampwarden.spot.pyrometry import cavity_emissivity, parse_band
    from rampwarden.spot.spot_check import Cavity, SpotCheck, make_check, note_text, read_note
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "ROOM",
    "Cavity",
    "SpotCheck",
    "Suspect",
    "cavity_emissivity",
    "doubt",
    "make_check",
    "note_text",
    "parse_band",
    "read_note",
    "spot_uncertainty_c",
    "thermocouple_now",
]
