"""The one frequency that stands out of a probe's noise: what mains pickup looks like when it is read now and then.

Wanted once a noisy spell: plain Python takes a few hundredths of a second, and the watch needs no numpy.
"""

import math
from collections import deque
from operator import mul


def strongest_line(readings: "deque[tuple[float, float]]", interval_s: float) -> tuple[float, float]:
    """Give the frequency (Hz) of the strongest line in readings (s, °C), and the share of their variance it explains.

    A sine is fitted at each of as many frequencies as there are readings, up to half the reading rate; a straight
    slope is taken out first. With fewer than 32 readings there is no line: (0, 0).
    """
    count = len(readings)
    if count < 32:
        return 0.0, 0.0
    mean_s = sum(time_s for time_s, _ in readings) / count
    mean_c = sum(temp_c for _, temp_c in readings) / count
    beside_s = [time_s - mean_s for time_s, _ in readings]
    off_c = [temp_c - mean_c for _, temp_c in readings]
    slope_c_per_s = sum(map(mul, beside_s, off_c)) / sum(map(mul, beside_s, beside_s))
    off_c = [temp_c - slope_c_per_s * time_s for time_s, temp_c in zip(beside_s, off_c, strict=True)]
    total_c2 = sum(map(mul, off_c, off_c))
    if total_c2 <= 0.0:
        return 0.0, 0.0
    # The slowest that can be told from the heat's own bends turns three times in what is searched.
    lowest_hz = 3.0 / (count * interval_s)
    step_hz = (0.5 / interval_s - lowest_hz) / (count - 1)
    powers_c2 = [_power_c2(lowest_hz + step_hz * number, beside_s, off_c) for number in range(count)]
    greatest_c2 = max(powers_c2)
    line_hz = lowest_hz + step_hz * powers_c2.index(greatest_c2)
    return line_hz, min(1.0, 2.0 * greatest_c2 / (count * total_c2))


def _power_c2(line_hz: float, beside_s: list[float], off_c: list[float]) -> float:
    """Give the square of the sum that a sine of this frequency has in common with the readings, °C²."""
    turns = 2.0 * math.pi * line_hz
    phases = [turns * time_s for time_s in beside_s]
    in_step = sum(map(mul, map(math.cos, phases), off_c))
    across = sum(map(mul, map(math.sin, phases), off_c))
    return float(in_step * in_step + across * across)
