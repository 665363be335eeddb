"""A wet wall in an oven, finer than `wet_pot`: layers that conduct, and a front of boiling that recedes into it.

Water leaves the outermost layer that is still wet, through what is dry in front of it: as vapour thins the air
(Stefan's flow: Bird, Stewart and Lightfoot) and, above the boiling point, pressed through the pores (Darcy). The oven
gives heat by air and by radiation. Coefficients are assumptions of this model.
"""

import math
from collections.abc import Callable

from wet_pot import pressure_bar

POT_J_PER_K = 5.0 * 900.0
_THICK_M, _LAYERS = 0.015, 10
_AREA_M2 = 5.0 / (2000.0 * _THICK_M)
_CONDUCTS_W_PER_M_K = 3.0
_AIR_W_PER_M2_K, _EMISSIVITY = 10.0, 0.9
_LATENT_J_PER_KG, _WATER_J_PER_KG_K, _VAPOUR_J_PER_KG_K = 2.257e6, 4190.0, 461.5
_AIR_PA, _FILM_M_PER_S, _PORES_M2_PER_S = 101_325.0, 0.01, 2.5e-7
_PERMEABILITY_M2, _VISCOSITY_M2_PER_S = 1e-14, 2e-5
_STEP_S = 0.25


def wet_wall(
    grams: float, oven_c: Callable[[float], float], seconds: int, every_s: int = 60
) -> tuple[list[tuple[float, float, float]], float]:
    """Give (s, °C of the outer layer, °C of the oven) once a minute, and how much water has left by the end, g."""
    temps = [20.0] * _LAYERS
    water_kg = [grams / 1000.0 / _LAYERS] * _LAYERS
    width_m = _THICK_M / _LAYERS
    between_w_per_k = _CONDUCTS_W_PER_M_K * _AREA_M2 / width_m
    course, last = [], _LAYERS - 1
    for step in range(round(seconds / _STEP_S)):
        time_s = step * _STEP_S
        oven = oven_c(time_s)
        if time_s % every_s == 0.0:
            course.append((time_s, temps[last], oven))
        radiated = _EMISSIVITY * 5.67e-8 * ((oven + 273.15) ** 4 - (temps[last] + 273.15) ** 4)
        heat_w = [0.0] * _LAYERS
        heat_w[last] = _AREA_M2 * (_AIR_W_PER_M2_K * (oven - temps[last]) + radiated)
        for layer in range(last):
            flow_w = between_w_per_k * (temps[layer + 1] - temps[layer])
            heat_w[layer] += flow_w
            heat_w[layer + 1] -= flow_w
        front = next((layer for layer in range(last, -1, -1) if water_kg[layer] > 0.0), None)
        if front is not None:
            leaves_kg = min(water_kg[front], _leaves_kg_per_s(temps[front], (last - front + 0.5) * width_m) * _STEP_S)
            water_kg[front] -= leaves_kg
            heat_w[front] -= leaves_kg * _LATENT_J_PER_KG / _STEP_S
        for layer in range(_LAYERS):
            temps[layer] += heat_w[layer] * _STEP_S / (POT_J_PER_K / _LAYERS + water_kg[layer] * _WATER_J_PER_KG_K)
    return course, grams - 1000.0 * sum(water_kg)


def _leaves_kg_per_s(temp_c: float, depth_m: float) -> float:
    saturated_pa = 1e5 * pressure_bar(temp_c)
    thinned = math.log(_AIR_PA / max(_AIR_PA - saturated_pa, 0.002 * _AIR_PA))
    vapour_kg_per_m3 = _AIR_PA / (_VAPOUR_J_PER_KG_K * (temp_c + 273.15))
    diffused = _AREA_M2 * vapour_kg_per_m3 * thinned / (1.0 / _FILM_M_PER_S + depth_m / _PORES_M2_PER_S)
    pressed = max(0.0, saturated_pa - _AIR_PA) * _PERMEABILITY_M2 / (_VISCOSITY_M2_PER_S * depth_m)
    return diffused + _AREA_M2 * pressed
