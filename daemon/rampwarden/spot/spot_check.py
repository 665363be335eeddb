"""One spot check, as it is written into a heat as a note and read back from it.

It travels as a note, so that any watch takes it, any version replays it to the byte, and a broker shows it. Whoever
writes a note by hand in these very words has made a spot check too.
"""

import re
from dataclasses import dataclass

from rampwarden.errors import QuantityError
from rampwarden.spot.pyrometry import Band, cavity_emissivity, corrected_c, parse_band

_NUMBER = r"-?\d{1,4}(?:\.\d{1,3})?"
_TEXT = re.compile(
    rf"spot (?P<reading>{_NUMBER}) °C set to (?P<set>{_NUMBER}), surface (?P<surface>{_NUMBER})"
    rf"(?: \(wall (?P<wall>{_NUMBER}), (?P<depth>{_NUMBER}) deep\))?, (?P<band>\S{{3,12}}), "
    rf"around (?P<around>{_NUMBER}) °C(?P<given> as given)?: (?P<corrected>{_NUMBER}) °C, "
    rf"(?:thermocouple (?P<thermocouple>{_NUMBER}) °C|no thermocouple)"
)


@dataclass(frozen=True, slots=True)
class Cavity:
    """A pot looked into: the emissivity of its wall, and its depth in diameters of the mouth."""

    wall_emissivity: float
    depth_diameters: float

    @property
    def emissivity(self) -> float:
        """What the whole of it has."""
        return cavity_emissivity(self.wall_emissivity, self.depth_diameters)


@dataclass(frozen=True, slots=True)
class SpotCheck:
    """A reading (°C) with what it takes to correct it, the corrected one, and the thermocouple's at that moment.

    `emissivity` is what is looked at has, a cavity as a whole, and then `cavity` says of what; `around_c` is what it
    reflects, which is the room unless `around_given`. `thermocouple_c` is None where none could be believed.
    """

    reading_c: float
    band: Band
    set_emissivity: float
    emissivity: float
    around_c: float
    around_given: bool
    corrected_c: float
    thermocouple_c: float | None = None
    cavity: Cavity | None = None

    @property
    def difference_c(self) -> float | None:
        """Spot less thermocouple, °C."""
        return None if self.thermocouple_c is None else self.corrected_c - self.thermocouple_c


def make_check(
    reading_c: float,
    band: Band,
    set_emissivity: float,
    surface: float | Cavity,
    around_c: float,
    *,
    around_given: bool,
) -> SpotCheck:
    """Correct a reading of a surface (its emissivity) or of a pot looked into.

    Raises `QuantityError` when what is given cannot be (see `corrected_c`).
    """
    cavity = surface if isinstance(surface, Cavity) else None
    emissivity = surface.emissivity if isinstance(surface, Cavity) else surface
    true_c = corrected_c(reading_c, band, set_emissivity, emissivity, around_c)
    return SpotCheck(reading_c, band, set_emissivity, emissivity, around_c, around_given, true_c, cavity=cavity)


def note_text(check: SpotCheck) -> str:
    """Write a check as the text of a note."""
    given = " as given" if check.around_given else ""
    cavity = check.cavity
    of = "" if cavity is None else f" (wall {cavity.wall_emissivity:.3f}, {cavity.depth_diameters:.2f} deep)"
    beside = "no thermocouple" if check.thermocouple_c is None else f"thermocouple {check.thermocouple_c:.1f} °C"
    return (
        f"spot {check.reading_c:.1f} °C set to {check.set_emissivity:.3f}, surface {check.emissivity:.3f}{of}, "
        f"{check.band}, around {check.around_c:.1f} °C{given}: {check.corrected_c:.1f} °C, {beside}"
    )


def read_note(text: str) -> SpotCheck | None:
    """Read a note's text back; None for every other note."""
    match = _TEXT.fullmatch(text)
    if match is None:
        return None
    try:
        band = parse_band(match["band"])
        cavity = Cavity(float(match["wall"]), float(match["depth"])) if match["wall"] else None
        if cavity is not None:
            cavity_emissivity(cavity.wall_emissivity, cavity.depth_diameters)
    except QuantityError:
        return None
    return SpotCheck(
        reading_c=float(match["reading"]),
        band=band,
        set_emissivity=float(match["set"]),
        emissivity=float(match["surface"]),
        around_c=float(match["around"]),
        around_given=bool(match["given"]),
        corrected_c=float(match["corrected"]),
        thermocouple_c=float(match["thermocouple"]) if match["thermocouple"] else None,
        cavity=cavity,
    )
