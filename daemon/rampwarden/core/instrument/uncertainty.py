"""How far temperature and ramp may be off: the standard uncertainty of each, stated by its parts.

Method: JCGM 100:2008 (the GUM). Every part is a standard uncertainty, k = 1, in the unit of what it belongs to; limits
of error are taken as rectangular, so their half-width is divided by the square root of three (4.3.7). The parts are
independent and add up as squares (5.1.2).

What is in it: the wire's tolerance class, the junction, the board, and the noise of this heat. What is not: where the
probe sits, drift of a used probe, heat led away along its sheath. Those are often larger (5 to 20 °C for the place
alone, common practice, no source), and no formula knows them.
"""

import math
from dataclasses import dataclass

from rampwarden.core.instrument.coefficients import TOLERANCES
from rampwarden.core.instrument.thermocouple import Thermocouple
from rampwarden.core.model import Noise, Ramp

_RECTANGULAR = math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class BoardFigures:
    """Limits of error of a usual board, half-widths. Common practice, no source; a data sheet outranks them."""

    gain: float = 0.001
    """Of the EMF, without unit: 0.1 %, 0.9 °C at 900 °C."""
    offset_uv: float = 10.0
    """µV, 0.25 °C of type K."""
    junction_c: float = 1.0
    """°C by which the junction's sensor may be off."""
    junction_lag_s: float = 30.0
    """s by which the junction's sensor may lag behind the terminals; enters while the junction changes."""


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """Standard uncertainty (k = 1) by its parts, all in °C, or all in °C/s for a ramp."""

    tolerance: float
    junction: float
    board: float
    noise: float

    @property
    def combined(self) -> float:
        """The root of the sum of the squares."""
        return math.hypot(self.tolerance, self.junction, self.board, self.noise)


@dataclass(frozen=True, slots=True)
class StatedTemperature:
    """A temperature (°C) at `time_s` (s) with the ramp there (°C/s, None if not known) and what both are uncertain by.

    `covered` is false where the tolerance class promises nothing; its law is then carried on, for want of a better one.
    """

    time_s: float
    temp_c: float
    temperature: Uncertainty
    ramp_c_per_s: float | None
    ramp: Uncertainty | None
    covered: bool


def temperature_uncertainty(
    couple: Thermocouple,
    tolerance_class: int,
    temp_c: float,
    junction_c: float,
    noise: Noise,
    junction_c_per_s: float = 0.0,
    board: BoardFigures = BoardFigures(),
) -> Uncertainty:
    """State the uncertainty of one reading's temperature.

    Parameters
    ----------
    couple : Thermocouple
        The type that is set.
    tolerance_class : int
        1 or 2 of IEC 60584-1; a class that the type does not have counts as class 2.
    temp_c, junction_c : float
        °C, of measuring and reference junction; a junction outside the range of the type counts as its end.
    noise : Noise
        What the readings of this heat scatter by.
    junction_c_per_s : float
        °C/s, by which the reference junction changes.
    board : BoardFigures
        Limits of error of the board.

    Returns
    -------
    Uncertainty
        °C, k = 1.

    Raises
    ------
    ValueError
        A temperature outside the range of the type.

    Examples
    --------
    >>> from rampwarden.core.instrument.thermocouple import thermocouple
    >>> calm = Noise(white_c=0.1, flicker_c=0.3, flicker_s=5.0, interval_s=1.0)
    >>> parts = temperature_uncertainty(thermocouple("K"), 2, 900.0, 25.0, calm)
    >>> round(parts.tolerance, 2), round(parts.junction, 2), round(parts.board, 2), round(parts.noise, 2)
    (3.9, 0.58, 0.54, 0.32)
    >>> round(parts.combined, 1)
    4.0
    """
    lowest_c, highest_c = couple.range_c
    junction_c = min(max(junction_c, lowest_c), highest_c)
    uv_per_c = couple.sensitivity_uv_per_c(temp_c)
    junction_share = couple.sensitivity_uv_per_c(junction_c) / uv_per_c
    lag_c = board.junction_lag_s * junction_c_per_s
    gain_uv = board.gain * (couple.emf_uv(temp_c) - couple.emf_uv(junction_c))
    return Uncertainty(
        tolerance=tolerance_limit_c(couple, tolerance_class, temp_c) / _RECTANGULAR,
        junction=math.hypot(board.junction_c, lag_c) * abs(junction_share) / _RECTANGULAR,
        board=math.hypot(gain_uv, board.offset_uv) / abs(uv_per_c) / _RECTANGULAR,
        noise=math.hypot(noise.white_c, noise.flicker_c),
    )


def ramp_uncertainty(
    couple: Thermocouple,
    tolerance_class: int,
    ramp: Ramp,
    junction_c_per_s: float = 0.0,
    board: BoardFigures = BoardFigures(),
) -> Uncertainty:
    """State the uncertainty of a ramp, °C/s, k = 1.

    Of wire and board only what grows with the temperature changes a ramp: the class's percentage and the gain. The
    junction enters by the share of its own change that its sensor misses within the ramp's span.
    """
    slope = abs(ramp.c_per_s)
    fraction = TOLERANCES[couple.letter, _class_of(couple, tolerance_class)].fraction
    missed = min(1.0, board.junction_lag_s / ramp.span_s) if ramp.span_s > 0.0 else 1.0
    return Uncertainty(
        tolerance=fraction * slope / _RECTANGULAR,
        junction=missed * abs(junction_c_per_s) / _RECTANGULAR,
        board=board.gain * slope / _RECTANGULAR,
        noise=ramp.standard_error_c_per_s,
    )


def tolerance_limit_c(couple: Thermocouple, tolerance_class: int, temp_c: float) -> float:
    """Give the limit of error of a new thermocouple at `temp_c` (°C), also outside the range its class covers, °C."""
    tolerance = TOLERANCES[couple.letter, _class_of(couple, tolerance_class)]
    return max(tolerance.least_c, tolerance.offset_c + tolerance.fraction * temp_c)


def is_covered(couple: Thermocouple, tolerance_class: int, temp_c: float) -> bool:
    """Tell whether the tolerance class promises anything for this type at `temp_c` (°C)."""
    tolerance = TOLERANCES.get((couple.letter, tolerance_class))
    return tolerance is not None and tolerance.low_c <= temp_c <= tolerance.high_c


def _class_of(couple: Thermocouple, tolerance_class: int) -> int:
    return tolerance_class if (couple.letter, tolerance_class) in TOLERANCES else 2
