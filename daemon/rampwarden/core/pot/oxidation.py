"""The oxidation a pot has taken, to where its glaze seals.

Equivalent seconds at 600 °C of bare graphite in free air: an upper bound, since a glaze and a neutral or slightly rich
flame keep the air away. The rate does not end at 650 °C, where the trade's rule of thumb ends: between there and the
glaze's sealing at 700 to 900 °C (common practice, no source) lies most of a heat's dose, so it is counted up to 900.
"""

import math

# Published kinetics of graphite in dry air: chemically controlled from 400 to 600 °C, by diffusion in the pores from
# 600 to 800 °C, above that by the layer of air. Luo, Robin and Yu, Comparison of Oxidation Behaviors of Different
# Grades of Nuclear Graphite, Nuclear Engineering and Design, 2004, doi 10.1016/j.nucengdes.2003.11.004.
_CHEMICAL_K = 158_560.0 / 8.314462618
_PORES_K = 72_010.0 / 8.314462618
_PORES_ABOVE_C = 600.0
_LAYER_ABOVE_C = 800.0
_NOTHING_BELOW_C = 250.0
_ZERO_C_IN_K = 273.15
_PER_REFERENCE_K = 1.0 / (_PORES_ABOVE_C + _ZERO_C_IN_K)

SEALED_C = 900.0
"""°C at which the last glazes have melted and sealed; a pot that was there is not bare any more in this heat."""


def oxidation_rate(temp_c: float, sealed_c: float = SEALED_C) -> float:
    """Give how fast bare graphite burns in air at `temp_c` (°C), as a multiple of its rate at 600 °C.

    Nothing below 250 °C, where a whole day counts for less than a tenth of a second, and from `sealed_c` on.

    >>> oxidation_rate(600.0), round(oxidation_rate(750.0), 2), oxidation_rate(950.0)
    (1.0, 4.28, 0.0)
    """
    if temp_c < _NOTHING_BELOW_C or temp_c >= sealed_c:
        return 0.0
    per_mol_k = _CHEMICAL_K if temp_c < _PORES_ABOVE_C else _PORES_K
    temp_k = min(temp_c, _LAYER_ABOVE_C) + _ZERO_C_IN_K
    return math.exp(per_mol_k * (_PER_REFERENCE_K - 1.0 / temp_k))
