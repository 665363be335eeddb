"""How hot a thermocouple may be used, how far it may be off, and how slowly it follows.

Limits are suggestions for a useful life, not guarantees. Knows wires, sheaths and the published tables; which heat they
are asked about is `judge_probe`'s business.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class Sheath(StrEnum):
    """What stands between the wires and the flame."""

    NONE = "none"
    STEEL_304 = "304"
    STEEL_316 = "316"
    STEEL_321 = "321"
    STEEL_310 = "310"
    ALLOY_600 = "alloy-600"
    MULLITE = "mullite"
    ALUMINA = "alumina"
    SILICON_CARBIDE = "silicon-carbide"


# °C, continuous, in clean air: the lower of what two digests give, of ASTM E230 (304: 900, 316: 925, 321: 870, alloy
# 600: 1150) and of VDI/VDE 3511 sheet 2 (such steels 800, alloy 600 1100). Steels spall where they are cycled: 310
# through about 1100 °C (common practice, no source). Silicon carbide: a tube for the flame to strike; no limit is at
# hand.
_MATERIAL_LIMITS_C: Mapping[Sheath, float] = MappingProxyType(
    {
        Sheath.STEEL_304: 800.0,
        Sheath.STEEL_316: 800.0,
        Sheath.STEEL_321: 800.0,
        Sheath.STEEL_310: 1150.0,
        Sheath.ALLOY_600: 1100.0,
        Sheath.MULLITE: 1700.0,
        Sheath.ALUMINA: 1900.0,
    }
)
CERAMIC = frozenset({Sheath.MULLITE, Sheath.ALUMINA, Sheath.SILICON_CARBIDE})

# °C by wire diameter, mm, thickest first, in a tube closed at one end. Between two sizes the thinner one's counts.
# Source: ASTM E230, suggested upper limits, from digests of its table (misprints met there are corrected: type K of
# 1.63 mm is 1090 °C). Type T: the pages disagree by a column; the lower figures.
_WIRE_LIMITS_C: Mapping[str, tuple[tuple[float, float], ...]] = MappingProxyType(
    {
        "K": ((3.25, 1260.0), (1.63, 1090.0), (0.81, 980.0), (0.51, 870.0), (0.33, 870.0), (0.25, 760.0)),
        "N": ((3.25, 1260.0), (1.63, 1090.0), (0.81, 980.0), (0.51, 870.0), (0.33, 870.0), (0.25, 760.0)),
        "J": ((3.25, 760.0), (1.63, 590.0), (0.81, 480.0), (0.51, 370.0), (0.33, 370.0), (0.25, 320.0)),
        "E": ((3.25, 870.0), (1.63, 650.0), (0.81, 540.0), (0.51, 430.0), (0.33, 430.0), (0.25, 370.0)),
        "T": ((1.63, 370.0), (0.81, 260.0), (0.51, 200.0), (0.33, 200.0), (0.25, 150.0)),
        "R": ((0.51, 1480.0),),
        "S": ((0.51, 1480.0),),
        "B": ((0.51, 1700.0),),
    }
)
BARE_IN_FLAME_C = 150.0
"""°C that a wire bare in the flame loses of its limit: 100 to 150, the more cautious. Common practice, no source."""

# °C by outer diameter, mm, thickest first: mineral-insulated cable of types K and N. Source: ASTM E608, from memory;
# for 1 mm and below a catalogue allows 871 °C: the lower is taken.
_CABLE_LIMITS_C = ((4.5, 1150.0), (3.0, 1070.0), (2.0, 1000.0), (1.5, 920.0), (0.5, 700.0))
_CABLE_TYPES = ("K", "N")

# s to 90 % of a step in moving air at room temperature by outer diameter, mm, junction insulated. Common practice, no
# source: the same figures for 0.2 and for 2 m/s, so an order of magnitude.
_T90_S = ((1.5, 25.0), (3.0, 80.0), (4.5, 120.0), (6.0, 200.0), (8.0, 360.0))
_T90_PER_TIME_CONSTANT = math.log(10.0)
# The middle of 60 to 180 s for outer tubes of 10 to 15 mm, and of their diameters, from memory.
_CERAMIC_TIME_CONSTANT_S = 120.0
_CERAMIC_MM = 12.0
# What radiation adds: 4 e s T³ over the heat that a cylinder stores by its surface, c d/4. Emissivity of an oxidised
# sheath, W/(m² K⁴), and J/(m³ K) of nickel alloy and magnesia together. Own arithmetic, figures from memory.
_EMISSIVITY = 0.8
_STEFAN_BOLTZMANN = 5.670374419e-8
_STORED_J_PER_M3_K = 3.54e6
_ZERO_C_IN_K = 273.15

RICH_FLAME_ABOVE_C = 800.0
"""°C above which alloy 600 is harmed by a flame short of air (sulphur, green rot). Common practice, no source."""


class ProbePlace(StrEnum):
    """Where the probe hangs, and so whose temperature is watched."""

    POT = "pot"
    CHAMBER = "chamber"


CHAMBER_AHEAD_S = (112.0, 384.0)
"""s by which the chamber's temperature is ahead of the pot's on a ramp: 28 to 96 °C at 900 °C/h.

By a model furnace of our own, pots of 2 to 8 kg: own arithmetic, an order of magnitude.
"""


@dataclass(frozen=True, slots=True)
class Probe:
    """A thermocouple as it hangs in the furnace.

    `wire_mm` is the wire's diameter, `sheath_mm` the outer diameter of a mineral-insulated cable or a tube; None where
    not known. `place` is None where nobody has said it.
    """

    letter: str
    tolerance_class: int
    wire_mm: float | None = None
    sheath_mm: float | None = None
    sheath: Sheath | None = None
    place: ProbePlace | None = None


@dataclass(frozen=True, slots=True)
class UseLimit:
    """How hot one part of the probe may be used, and why."""

    limit_c: float
    because: str


def use_limits(probe: Probe) -> list[UseLimit]:
    """Give every limit that is known of a probe, lowest first; none where nothing of it is known."""
    limits = []
    if probe.wire_mm is not None:
        limit_c = _stepped(_WIRE_LIMITS_C[probe.letter], probe.wire_mm)
        what = f"type {probe.letter} wire of {probe.wire_mm:g} mm"
        if probe.sheath is Sheath.NONE:
            limits.append(UseLimit(limit_c - BARE_IN_FLAME_C, f"{what}, bare in the flame"))
        else:
            limits.append(UseLimit(limit_c, f"{what} in a tube"))
    sheath = probe.sheath
    if sheath is not None and sheath in _MATERIAL_LIMITS_C:
        limits.append(UseLimit(_MATERIAL_LIMITS_C[sheath], f"sheath of {sheath}"))
    if probe.sheath_mm is not None and probe.letter in _CABLE_TYPES and sheath not in CERAMIC | {Sheath.NONE}:
        what = f"mineral-insulated type {probe.letter} of {probe.sheath_mm:g} mm"
        limits.append(UseLimit(_stepped(_CABLE_LIMITS_C, probe.sheath_mm), what))
    return sorted(limits, key=lambda limit: limit.limit_c)


def time_constant_s(probe: Probe, temp_c: float) -> float | None:
    """Give the probe's time constant in furnace gas at `temp_c` (°C), s: an order of magnitude; None if of no size.

    In cool air by tables; towards red heat radiation brings the heat, and the probe follows ten times as fast. For a
    bare wire no figure is at hand; it is no slower than a cable of the same diameter.

    >>> [round(time_constant_s(Probe("K", 2, sheath_mm=6.0), temp_c)) for temp_c in (100.0, 600.0, 1100.0)]
    [75, 29, 10]
    """
    diameter_mm = probe.sheath_mm if probe.sheath_mm is not None else probe.wire_mm
    if probe.sheath in CERAMIC:
        in_air_s, diameter_mm = _CERAMIC_TIME_CONSTANT_S, diameter_mm or _CERAMIC_MM
    elif diameter_mm is None:
        return None
    else:
        # The next size up: a wire thinner than the table is taken for its thinnest.
        t90_s = next((t90_s for size_mm, t90_s in _T90_S if diameter_mm <= size_mm), _T90_S[-1][1])
        in_air_s = t90_s / _T90_PER_TIME_CONSTANT
    temp_k = temp_c + _ZERO_C_IN_K
    radiated_w_per_m2_k = 4.0 * _EMISSIVITY * _STEFAN_BOLTZMANN * temp_k**3
    stored_j_per_m2_k = _STORED_J_PER_M3_K * diameter_mm / 1000.0 / 4.0
    return 1.0 / (1.0 / in_air_s + radiated_w_per_m2_k / stored_j_per_m2_k)


def _stepped(limits: tuple[tuple[float, float], ...], diameter_mm: float) -> float:
    """Give the limit of the thickest listed size that is not thicker; of the thinnest for anything thinner."""
    # Sold in round millimetres, 3.2 for 3.25 and 0.8 for 0.81: two in a hundred make no other wire.
    fitting = (limit_c for size_mm, limit_c in limits if diameter_mm >= 0.98 * size_mm)
    return next(fitting, limits[-1][1])
