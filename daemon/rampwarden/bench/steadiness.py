"""When a reading stands still long enough to be taken: by what it does, not by a stopwatch.

A tip in a bath approaches its temperature ever more slowly. It counts as steady when a straight line through the last
20 s rises by less than a tenth of a °C, beyond what noise alone would tilt it by.
"""

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

WINDOW_S = 20.0
# A straight line through fewer proves nothing.
_FEWEST = 12
_FLAT_UV = 4.0  # 0.1 °C of type K
# A single spark must not keep a bath from being steady.
_OUTLIER = 6.0


@dataclass(frozen=True, slots=True)
class Steady:
    """A steady stretch: mean EMF (µV) with its standard error, mean junction (°C), how many readings, over how long."""

    emf_uv: float
    error_uv: float
    junction_c: float
    count: int
    span_s: float


class Steadiness:
    """Takes readings and says when they stand still; `change_uv` is by how much they last moved in a window."""

    def __init__(self) -> None:
        self.change_uv: float | None = None
        self._readings: deque[tuple[float, float, float]] = deque()

    def restart(self) -> None:
        """Forget everything: a reading with a fault came, or something was moved."""
        self._readings.clear()
        self.change_uv = None

    def feed(self, time_s: float, emf_uv: float, junction_c: float) -> Steady | None:
        """Take a reading (s, µV, °C); gives the steady stretch once there is one."""
        self._readings.append((time_s, emf_uv, junction_c))
        while time_s - self._readings[0][0] > WINDOW_S:
            self._readings.popleft()
        span_s = time_s - self._readings[0][0]
        if len(self._readings) < _FEWEST or span_s < 0.9 * WINDOW_S:
            return None
        return self._judge(span_s)

    def _judge(self, span_s: float) -> Steady | None:
        table = np.array(self._readings)
        times, emfs, junctions = table[:, 0] - table[0, 0], table[:, 1], table[:, 2]
        middle = np.median(emfs)
        spread = np.median(np.abs(emfs - middle))
        kept = np.abs(emfs - middle) <= _OUTLIER * max(float(spread), 1.0)
        times, emfs = times[kept], emfs[kept]
        line = np.polynomial.Polynomial.fit(times, emfs, 1).convert()
        slope = float(line.coef[1]) if line.coef.size > 1 else 0.0
        scatter = math.sqrt(float(np.sum((emfs - line(times)) ** 2)) / max(1, emfs.size - 2))
        tilt = scatter / math.sqrt(float(np.sum((times - times.mean()) ** 2)) or math.inf)
        self.change_uv = slope * span_s
        if abs(slope) * span_s > _FLAT_UV + 2.0 * tilt * span_s:
            return None
        error_uv = scatter / math.sqrt(emfs.size)
        return Steady(float(emfs.mean()), error_uv, float(junctions.mean()), int(emfs.size), span_s)
