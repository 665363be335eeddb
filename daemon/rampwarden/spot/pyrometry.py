"""What a spot thermometer's reading means: emissivity, reflected walls and cavities. Pure formulas.

A spot thermometer sees what the surface sends, emissivity × that of a black body, and what it reflects of its
surroundings. It turns the sum into a temperature with the emissivity it is set to. Here that is turned round.
"""

import math
import re
from dataclasses import dataclass

from rampwarden.errors import QuantityError

_C2_UM_K = 14_387.768_775
"""µm K, second radiation constant h c / k of the SI of 2019 (CODATA 2018)."""
_ZERO_C_IN_K = 273.15
_PARTS = 48
"""Steps of Simpson's rule across a band; 8 to 14 µm is then good to a millionth from 20 °C up."""
_COLDEST_C, _HOTTEST_C = -100.0, 4000.0
"""°C between which a temperature is looked for."""
_BAND = re.compile(r"(\d{1,2}(?:\.\d{1,3})?)(?:\s*-\s*(\d{1,2}(?:\.\d{1,3})?))?\s*[uµμ]m", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Band:
    """What a spot thermometer sees: from `low_um` to `high_um`, one wavelength where both agree, all where it is 0."""

    low_um: float
    high_um: float

    def __str__(self) -> str:
        """Write the band as it is read."""
        if not self.low_um:
            return "total"
        return f"{self.low_um:g}um" if self.low_um == self.high_um else f"{self.low_um:g}-{self.high_um:g}um"


def parse_band(text: str) -> Band:
    """Read a band such as ``"8-14um"``, a wavelength such as ``"1um"``, or ``"total"`` radiation.

    >>> parse_band("8-14um")
    Band(low_um=8.0, high_um=14.0)
    """
    if text.strip().lower() == "total":
        return Band(0.0, 0.0)
    match = _BAND.fullmatch(text.strip())
    low_um = float(match[1]) if match else 0.0
    high_um = float(match[2] or match[1]) if match else 0.0
    # Outside these no spot thermometer works, and a band the wrong way round is a slip.
    if not 0.4 <= low_um <= high_um <= 20.0:
        raise QuantityError(f"{text!r} is not a band such as '8-14um' or '1um' (0.4 to 20 µm), nor 'total'")
    return Band(low_um, high_um)


def radiance(temp_c: float, band: Band) -> float:
    """Give what a black body sends in a band, in a unit of its own for each band.

    Parameters
    ----------
    temp_c : float
        °C, above absolute zero.
    band : Band
        Planck's law over the band (Simpson's rule), at one wavelength, or Stefan's fourth power for all radiation.

    Returns
    -------
    float
        Comparable for one band only; constants that cancel are left out.

    Notes
    -----
    Sources: Planck's law, Stefan-Boltzmann law (any physics text).
    """
    temp_k = temp_c + _ZERO_C_IN_K
    if not band.low_um:
        return (temp_k / 1000.0) ** 4
    if band.low_um == band.high_um:
        return _planck(band.low_um, temp_k)
    step_um = (band.high_um - band.low_um) / _PARTS
    total = _planck(band.low_um, temp_k) + _planck(band.high_um, temp_k)
    for part in range(1, _PARTS):
        total += (4.0 if part % 2 else 2.0) * _planck(band.low_um + part * step_um, temp_k)
    return total * step_um / 3.0


def temperature_c(sent: float, band: Band) -> float:
    """Give the temperature of a black body that sends so much in a band, °C; the inverse of `radiance`.

    Raises `QuantityError` when there is none between −100 and 4000 °C.
    """
    low_c, high_c = _COLDEST_C, _HOTTEST_C
    if not radiance(low_c, band) <= sent <= radiance(high_c, band):
        raise QuantityError("no temperature would send this: are emissivity and wall right?")
    # Halving 4100 °C forty times leaves 4e-9 °C; radiance grows with temperature everywhere.
    for _ in range(40):
        middle_c = 0.5 * (low_c + high_c)
        if radiance(middle_c, band) < sent:
            low_c = middle_c
        else:
            high_c = middle_c
    return 0.5 * (low_c + high_c)


def corrected_c(reading_c: float, band: Band, set_emissivity: float, emissivity: float, around_c: float) -> float:
    """Give a surface's temperature from a spot thermometer's reading.

    Parameters
    ----------
    reading_c : float
        °C, as shown. The thermometer is taken to divide by its set emissivity and to know nothing of reflections.
    band : Band
        What it sees.
    set_emissivity, emissivity : float
        What it is set to, and what the surface has in this band; above 0, at most 1.
    around_c : float
        °C of what the surface reflects: the room, or the furnace's walls.

    Returns
    -------
    float
        °C.

    Raises
    ------
    QuantityError
        An emissivity out of range, or a reading that the reflection alone explains: walls too hot for it.

    Examples
    --------
    A thermometer at 0.95 shows 880 °C for a wall of 0.8 at 1000 °C:

    >>> round(corrected_c(880.0, parse_band("8-14um"), 0.95, 0.8, 20.0), -1)
    1000.0
    """
    check_emissivity(set_emissivity)
    check_emissivity(emissivity)
    reflected = (1.0 - emissivity) * radiance(around_c, band)
    sent = set_emissivity * radiance(reading_c, band) - reflected
    if sent <= emissivity * radiance(_COLDEST_C, band):
        raise QuantityError(
            f"a wall of {around_c:.0f} °C alone would make it read more than {reading_c:.0f}; is the wall so hot?"
        )
    return temperature_c(sent / emissivity, band)


def shown_c(true_c: float, band: Band, set_emissivity: float, emissivity: float, around_c: float) -> float:
    """Give what a spot thermometer shows for a surface, °C; the inverse of `corrected_c`, with the same arguments."""
    sent = emissivity * radiance(true_c, band) + (1.0 - emissivity) * radiance(around_c, band)
    return temperature_c(sent / set_emissivity, band)


def implied_emissivity(reading_c: float, band: Band, set_emissivity: float, true_c: float, around_c: float) -> float:
    """Give the emissivity that would make the reading mean `true_c`; out of 0 to 1 if none does, NaN if any would."""
    around = radiance(around_c, band)
    difference = radiance(true_c, band) - around
    if difference == 0.0:
        return math.nan
    return (set_emissivity * radiance(reading_c, band) - around) / difference


def cavity_emissivity(emissivity: float, depth_diameters: float) -> float:
    """Give the emissivity of a pot looked into: e' = e / (e + (1 − e) A_hole / A_wall).

    A simple diffuse model, derived here (own arithmetic): what comes out was sent by the wall or reflected in it.

    Parameters
    ----------
    emissivity : float
        Of its wall, above 0, at most 1.
    depth_diameters : float
        Depth of the empty pot in diameters of its mouth, at least 0; A_wall is inside wall and bottom of a cylinder.

    Returns
    -------
    float
        At least `emissivity`.

    Examples
    --------
    >>> round(cavity_emissivity(0.8, 2.0), 2)
    0.97
    """
    check_emissivity(emissivity)
    if not 0.0 <= depth_diameters <= 20.0:
        raise QuantityError(
            f"depth of {depth_diameters:g} diameters: between 0 and 20; it is depth / width of the mouth"
        )
    hole_of_wall = 1.0 / (4.0 * depth_diameters + 1.0)
    return emissivity / (emissivity + (1.0 - emissivity) * hole_of_wall)


def check_emissivity(emissivity: float) -> None:
    """Raise `QuantityError` unless this is one."""
    if not 0.0 < emissivity <= 1.0:
        raise QuantityError(f"emissivity {emissivity:g}: must be above 0 and at most 1")


def _planck(wavelength_um: float, temp_k: float) -> float:
    # Per wavelength; the first radiation constant cancels. In powers of 10 µm, so that numbers stay near 1.
    return (wavelength_um / 10.0) ** -5 / math.expm1(_C2_UM_K / (wavelength_um * temp_k))
