"""How far temperature and ramp may be off: one budget for the whole of rampwarden, stated by its parts.

Method: JCGM 100:2008 (the GUM). Every part is a standard uncertainty, k = 1, in the unit of what it belongs to; limits
of error are taken as rectangular, so their half-width is divided by the square root of three (4.3.7). The parts are
independent and add up as squares (5.1.2). What is shown to people is twice that, k = 2, and covers 95 of 100 cases or
more, which a simulation shows.

What is in a temperature's: the wire's tolerance class, the junction, the board, and for type K drift in use. What is
not, and is named beside it: where the probe sits and heat led away along its sheath, often larger (5 to 20 °C, common
practice, no source), which no formula knows; and the scatter of single readings, which is each heat's own and averages
out.
"""

import math
from dataclasses import dataclass, replace

from rampwarden.core.instrument.calibration import BoardCalibration
from rampwarden.core.instrument.coefficients import TOLERANCES
from rampwarden.core.instrument.thermocouple import Thermocouple
from rampwarden.core.model import Noise, Ramp

_RECTANGULAR = math.sqrt(3.0)
COVERAGE_FACTOR = 2.0
"""k, by which a standard uncertainty is multiplied before it is shown (JCGM 100:2008, 6.3.3)."""
NOT_IN_IT = "where the probe hangs adds 5 to 20 °C more"

# Type K in use. Up to 600 °C short-range ordering makes it read high by up to 1.7 % of the temperature, once it has
# been above 200 °C (8.5 °C at 500; ORNL-TM-4862, 1975); the 2 to 4 °C of practice is the smaller of the figures, no
# bound. Above 600 °C that is gone, and 5 °C are taken for hot use (common practice, no source); green rot, a wire
# starved of air, reads low without any bound. Other types: no figure at hand, and none is made up.
_ORDERED_SHARE = 0.017
_ORDERED_BELOW_C = 600.0
_HOT_USE_C = 5.0
# °C of the reference junction that the budget is drawn up for: another one changes it by hundredths of a degree.
_USUAL_JUNCTION_C = 25.0


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
    """Standard uncertainty (k = 1) by its parts, all in °C, or all in °C/s for a ramp.

    `noise` is the scatter of what it belongs to: of one reading, or of the fitted slope.
    """

    tolerance: float
    junction: float
    board: float
    noise: float
    drift: float = 0.0
    guess: float = 0.0

    @property
    def instrument(self) -> float:
        """Without the scatter, which averages out."""
        return math.hypot(self.tolerance, self.junction, self.board, self.drift, self.guess)

    @property
    def combined(self) -> float:
        """The root of the sum of the squares of all parts."""
        return math.hypot(self.instrument, self.noise)


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
    >>> round(parts.drift, 2), round(parts.instrument, 2), round(parts.combined, 2)
    (2.89, 4.92, 4.93)
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
        drift=drift_limit_c(couple, temp_c) / _RECTANGULAR,
    )


def expanded_uncertainty_c(
    couple: Thermocouple, tolerance_class: int, temp_c: float, board: BoardFigures = BoardFigures()
) -> float:
    """Give how far a temperature may be off in 95 of 100 cases, ± °C (k = 2): the one figure that everything prints.

    Wire, junction, board and drift; not the probe's place, nor the scatter of a single reading. Outside the range of
    the class its law is carried on (`is_covered` tells). Raises `ValueError` outside the range of the type.

    >>> from rampwarden.core.instrument.thermocouple import thermocouple
    >>> round(expanded_uncertainty_c(thermocouple("K"), 2, 900.0), 1)
    9.8
    """
    still = Noise(white_c=0.0, flicker_c=0.0, flicker_s=1.0, interval_s=1.0)
    parts = temperature_uncertainty(couple, tolerance_class, temp_c, _USUAL_JUNCTION_C, still, board=board)
    return COVERAGE_FACTOR * parts.instrument


def what_is_in_it(letter: str) -> str:
    """Say what `expanded_uncertainty_c` holds for a type, to stand beside the figure."""
    return (
        "k = 2: wire, junction, board, drift" if letter == "K" else "k = 2: wire, junction, board; of drift no figure"
    )


def drift_limit_c(couple: Thermocouple, temp_c: float) -> float:
    """Give by how much a used thermocouple may have drifted at `temp_c` (°C), °C; 0 where no figure is at hand."""
    if couple.letter != "K":
        return 0.0
    return _ORDERED_SHARE * max(0.0, temp_c) if temp_c < _ORDERED_BELOW_C else _HOT_USE_C


def board_figures(calibration: BoardCalibration) -> BoardFigures:
    """Give a board's limits of error: of what was calibrated by how surely, of the rest as usual.

    A limit is the half-width of a rectangle, a calibration's uncertainty a standard one; between them lies √3.
    """
    usual = BoardFigures()
    gain, offset_uv = calibration.gain_uncertainty, calibration.offset_uncertainty_uv
    return replace(
        usual,
        gain=usual.gain if gain is None else _RECTANGULAR * gain,
        offset_uv=usual.offset_uv if offset_uv is None else _RECTANGULAR * offset_uv,
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
