"""One spot check, as it is written into a heat as a note and read back from it.

It travels as a note, so that any watch takes it, any version replays it to the byte, and a broker shows it. Whoever
writes a note by hand in these very words has made a spot check too.
"""

import re
from dataclasses import dataclass

from rampwarden.errors import QuantityError
from rampwarden.spot.pyrometry import Band, corrected_c, parse_band

_NUMBER = r"-?\d{1,4}(?:\.\d{1,3})?"
_TEXT = re.compile(
    rf"spot ({_NUMBER}) °C set to ({_NUMBER}), surface ({_NUMBER}), (\S{{3,12}}), around ({_NUMBER}) °C"
    rf"( as given)?: ({_NUMBER}) °C, (?:thermocouple ({_NUMBER}) °C|no thermocouple)"
)


@dataclass(frozen=True, slots=True)
class SpotCheck:
    """A reading (°C) with what it takes to correct it, the corrected one, and the thermocouple's at that moment.

    `emissivity` is the surface's, a cavity's already in it; `around_c` is what it reflects, which is the room unless
    `around_given`. `thermocouple_c` is None where none could be believed.
    """

    reading_c: float
    band: Band
    set_emissivity: float
    emissivity: float
    around_c: float
    around_given: bool
    corrected_c: float
    thermocouple_c: float | None = None

    @property
    def difference_c(self) -> float | None:
        """Spot less thermocouple, °C."""
        return None if self.thermocouple_c is None else self.corrected_c - self.thermocouple_c


def make_check(
    reading_c: float, band: Band, set_emissivity: float, emissivity: float, around_c: float, *, around_given: bool
) -> SpotCheck:
    """Correct a reading; raises `QuantityError` when what is given cannot be (see `corrected_c`)."""
    true_c = corrected_c(reading_c, band, set_emissivity, emissivity, around_c)
    return SpotCheck(reading_c, band, set_emissivity, emissivity, around_c, around_given, true_c)


def note_text(check: SpotCheck) -> str:
    """Write a check as the text of a note."""
    given = " as given" if check.around_given else ""
    beside = "no thermocouple" if check.thermocouple_c is None else f"thermocouple {check.thermocouple_c:.1f} °C"
    return (
        f"spot {check.reading_c:.1f} °C set to {check.set_emissivity:.3f}, surface {check.emissivity:.3f}, "
        f"{check.band}, around {check.around_c:.1f} °C{given}: {check.corrected_c:.1f} °C, {beside}"
    )


def read_note(text: str) -> SpotCheck | None:
    """Read a note's text back; None for every other note."""
    match = _TEXT.fullmatch(text)
    if match is None:
        return None
    try:
        band = parse_band(match[4])
    except QuantityError:
        return None
    return SpotCheck(
        reading_c=float(match[1]),
        band=band,
        set_emissivity=float(match[2]),
        emissivity=float(match[3]),
        around_c=float(match[5]),
        around_given=bool(match[6]),
        corrected_c=float(match[7]),
        thermocouple_c=float(match[8]) if match[8] else None,
    )
