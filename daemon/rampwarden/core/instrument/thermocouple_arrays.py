"""The thermocouple functions on whole arrays: each range of the published functions takes its part of the array.

The only module of conversion that loads numpy; `thermocouple` enters it when it is given an array.
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from rampwarden.core.instrument.thermocouple import Thermocouple

FloatArray = NDArray[np.float64]


def exp(exponent: FloatArray) -> FloatArray:
    """Give the exponential of each element."""
    power: FloatArray = np.exp(exponent)
    return power


def emf_and_slope(couple: "Thermocouple", temp_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give E (µV) and dE/dt (µV/°C) at each temperature (°C), in its shape; `ValueError` for one outside the range."""
    temp_c = np.asarray(temp_c, dtype=np.float64)
    inside = (couple.range_c[0] <= temp_c) & (temp_c <= couple.range_c[1])
    if not inside.all():
        raise ValueError(couple.refusal_of_temp(float(temp_c[~inside][0])))
    which = np.searchsorted(couple.reference_ends_c, temp_c)
    emf_uv, slope = np.empty(temp_c.shape), np.empty(temp_c.shape)
    for index, reference in enumerate(couple.references):
        here = which == index
        emf_uv[here], slope[here] = reference.emf_and_slope(temp_c[here], exp)
    return emf_uv, slope


def temp_c(couple: "Thermocouple", emf_uv: float | FloatArray, junction_c: float | FloatArray) -> FloatArray:
    """Convert EMFs (µV) over reference junctions (°C) to °C, broadcast; `ValueError` for a sum that none gives."""
    sum_uv = np.asarray(np.asarray(emf_uv, dtype=np.float64) + couple.emf_uv(junction_c))
    inside = (couple.emf_range_uv[0] <= sum_uv) & (sum_uv <= couple.emf_range_uv[1])
    if not inside.all():
        raise ValueError(couple.refusal_of_emf(float(sum_uv[~inside][0])))
    which = np.searchsorted(couple.inverse_ends_uv, sum_uv)
    temp_c = np.empty(sum_uv.shape)
    for index, inverse in enumerate(couple.inverses):
        here = which == index
        temp_c[here] = inverse.temp_c(sum_uv[here])
    return np.clip(temp_c, *couple.measurable_c, out=temp_c)
