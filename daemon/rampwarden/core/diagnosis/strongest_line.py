"""The one frequency that stands out of a probe's noise: what mains pickup looks like when it is read now and then.

Apart from the watch that calls it, since it is the only place that needs numpy and is needed once a noisy spell.
"""

import math
from collections import deque

import numpy as np


def strongest_line(readings: "deque[tuple[float, float]]", interval_s: float) -> tuple[float, float]:
    """Give the frequency (Hz) of the strongest line in readings (s, °C), and the share of their variance it explains.

    A sine is fitted at each of as many frequencies as there are readings, up to half the reading rate; a straight
    slope is taken out first. With fewer than 32 readings there is no line: (0, 0).
    """
    if len(readings) < 32:
        return 0.0, 0.0
    table = np.array(readings)
    time_s = table[:, 0] - table[:, 0].mean()
    temp_c = table[:, 1] - table[:, 1].mean()
    temp_c = temp_c - time_s * (time_s @ temp_c) / (time_s @ time_s)
    total = float(temp_c @ temp_c)
    if total <= 0.0:
        return 0.0, 0.0
    count = len(readings)
    # The slowest that can be told from the heat's own bends turns three times in what is searched.
    lines_hz = np.linspace(3.0 / (count * interval_s), 0.5 / interval_s, count)
    phases = 2.0 * math.pi * np.outer(lines_hz, time_s)
    power = (np.cos(phases) @ temp_c) ** 2 + (np.sin(phases) @ temp_c) ** 2
    best = int(power.argmax())
    return float(lines_hz[best]), min(1.0, 2.0 * float(power[best]) / (count * total))
