"""Which of the two to doubt when a spot thermometer and the thermocouple disagree.

Rules of thumb, common practice and no source, save for the physics they rest on:

1. A reading that is nearly all reflection tells nothing. Else, within what both may be off, neither.
2. An emissivity that would make them agree, and the same one at each check of the heat: the emissivity, so the spot.
3. An emissivity that wanders from check to check: a surface does not change so, a drifting thermocouple does.
4. More than a black body could send: reflected walls or flame where no wall was given, else the thermocouple reads low.
5. Far less than any crucible sends: the spot missed the pot, or looked through smoke or a dirty window.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from rampwarden.errors import QuantityError
from rampwarden.spot.pyrometry import corrected_c, implied_emissivity
from rampwarden.spot.spot_check import SpotCheck

_EMISSIVITY_OFF = 0.05
"""How well anybody knows a wall's emissivity: tables differ by more. Common practice, no source."""
_SPOT_SHARE = 0.01
_SPOT_LEAST_C = 2.0
"""A hand-held spot thermometer's own error: 1 % of its reading or 2 °C. Common practice, no source."""
_LOWEST_EMISSIVITY = 0.3
"""No crucible's wall sends less; bare molten metal does (copper 0.13 to 0.15, emissivity tables)."""
_TELLS_NOTHING_C = 120.0
"""± °C of a spot reading beyond which heat colours are as good (± 50 °C by eye). Common practice, no source."""
_LEAST = 0.001
"""A wall without any emissivity would be seen at no temperature."""
_STEADY = 0.06
"""Spread of implied emissivities that is still one emissivity."""


class Suspect(Enum):
    """Which of the two to doubt."""

    NEITHER = "neither"
    SPOT = "the spot reading"
    THERMOCOUPLE = "the thermocouple"


@dataclass(frozen=True, slots=True)
class Doubt:
    """Which to doubt and why, and the difference (°C) up to which both would be right."""

    suspect: Suspect
    why: str
    within_c: float


def spot_uncertainty_c(check: SpotCheck) -> float:
    """Give how far a corrected reading may be off, ± °C (k = 2): emissivity ±0.05 and the thermometer's own error.

    The emissivity nobody knows is that of the wall: of a pot looked into, many reflections make little of it.
    """
    own_c = max(_SPOT_LEAST_C, _SPOT_SHARE * abs(check.corrected_c))
    by_emissivity_c = 0.0
    for emissivity in (_emissivity_if_off(check, -_EMISSIVITY_OFF), _emissivity_if_off(check, _EMISSIVITY_OFF)):
        try:
            true_c = corrected_c(check.reading_c, check.band, check.set_emissivity, emissivity, check.around_c)
        except QuantityError:
            # A little less emissivity, and reflection alone explains it all: it may be off by all it shows.
            true_c = check.corrected_c - abs(check.reading_c)
        by_emissivity_c = max(by_emissivity_c, abs(true_c - check.corrected_c))
    # Each a bound, taken as spread evenly: over the root of three, and twice for k = 2 (GUM).
    return 2.0 * math.hypot(own_c, by_emissivity_c) / math.sqrt(3.0)


def doubt(check: SpotCheck, thermocouple_uncertainty_c: float, earlier: Sequence[SpotCheck] = ()) -> Doubt | None:
    """Judge a check beside the heat's earlier ones; None without a thermocouple's reading.

    `thermocouple_uncertainty_c` is ± °C (k = 2).
    """
    difference_c = check.difference_c
    if difference_c is None or check.thermocouple_c is None:
        return None
    spot_c = spot_uncertainty_c(check)
    within_c = math.hypot(thermocouple_uncertainty_c, spot_c)
    if spot_c > _TELLS_NOTHING_C:
        return Doubt(
            Suspect.SPOT, f"at ± {spot_c:.0f} °C it tells nothing: most of what it sees is reflected", within_c
        )
    if abs(difference_c) <= within_c:
        return Doubt(Suspect.NEITHER, f"they agree within the {within_c:.0f} °C that both may be off", within_c)
    implied = _implied(check)
    if implied > 1.0 and not check.around_given:
        return Doubt(
            Suspect.SPOT,
            "no surface sends so much at the thermocouple's temperature: hot walls or flame are reflected; "
            "give the wall's temperature, or look with the flame off",
            within_c,
        )
    if implied > 1.0:
        return Doubt(
            Suspect.THERMOCOUPLE,
            "even a black body sends less at the thermocouple's temperature: the thermocouple reads low (it "
            "drifted, or is not deep enough), unless the walls are hotter than given",
            within_c,
        )
    if not implied >= _LOWEST_EMISSIVITY:
        return Doubt(
            Suspect.SPOT, "no crucible sends so little: the spot missed it, or smoke, window or angle took it", within_c
        )
    before = [each for each in map(_implied, earlier) if math.isfinite(each)]
    if before and max(*before, implied) - min(*before, implied) > _STEADY:
        return Doubt(
            Suspect.THERMOCOUPLE,
            f"the emissivity that would make both agree went from {before[0]:.2f} to {implied:.2f}: a surface seldom "
            "changes so, a thermocouple that drifts or was moved does",
            within_c,
        )
    steady = ", and did at the checks before" if before else ""
    return Doubt(
        Suspect.SPOT,
        f"an emissivity of {implied:.2f} instead of {check.emissivity:.2f} would make both agree{steady}",
        within_c,
    )


def _emissivity_if_off(check: SpotCheck, by: float) -> float:
    """Give what is looked at would have if its wall's emissivity were `by` more."""
    cavity = check.cavity
    if cavity is None:
        return min(1.0, check.emissivity + by)
    wall = min(1.0, max(_LEAST, cavity.wall_emissivity + by))
    return replace(cavity, wall_emissivity=wall).emissivity


def _implied(check: SpotCheck) -> float:
    if check.thermocouple_c is None:
        return math.nan
    return implied_emissivity(check.reading_c, check.band, check.set_emissivity, check.thermocouple_c, check.around_c)
