"""Half-minute means of the buckets, evenly spaced, and what they scatter by: what rules over minutes look at.

A gap of up to a minute is bridged by a line, a longer one begins a new course.
"""

from collections import deque
from collections.abc import Sequence
from functools import cache

from rampwarden.core.explanation.slots import Slot
from rampwarden.core.explanation.slow.projection import dot

LENGTH_S = 30.0
"""s. Longer than flicker, shorter than what a furnace does in a few minutes."""
_BRIDGED = 2
"""Half minutes without a bucket that a line may bridge."""
_SCATTER_OF = 40
"""Second differences whose median says what a half minute scatters by: twenty minutes, so that one event in them
does not count."""
_OF_SECOND_DIFFERENCE = 1.0 / (0.6745 * 6.0**0.5)
"""A standard deviation from the median size of second differences, for independent normal values."""
ROUGHEST_OVEN_C = 0.5
"""°C. By no more half minutes of an oven scatter; what is rougher, at an oven's heat, stands over a flame."""
_LEAST_C = 0.04
"""°C. No converter's half minute is known better."""


class HalfMinutes:
    """The last half minutes: `temps_c`, oldest first, the last one centred at `last_s`."""

    __slots__ = ("_bends_c", "_index", "_kept", "_sum_c", "_sum_s", "_taken", "last_s", "temps_c")

    def __init__(self, kept: int) -> None:
        self._kept = kept
        self.temps_c: list[float] = []
        self.last_s = 0.0
        self._bends_c: deque[float] = deque(maxlen=_SCATTER_OF)
        self._index = 0
        self._taken = 0
        self._sum_s = self._sum_c = 0.0

    def feed(self, slot: Slot) -> bool:
        """Take a bucket, later than the one before; says whether a half minute has just been closed."""
        index = int(slot.time_s // LENGTH_S)
        closed = False
        if self._taken and index != self._index:
            closed = self._close()
        if not self._taken:
            self._index = index
        self._taken += 1
        self._sum_s += slot.time_s
        self._sum_c += slot.temp_c
        return closed

    def restart(self) -> None:
        """Forget the course, not what it scatters by."""
        self.temps_c.clear()
        self._taken = 0
        self._sum_s = self._sum_c = 0.0

    def scatter_c(self) -> float:
        """Give a half minute's standard deviation about a smooth course, °C; a degree while under 5 min are known."""
        if len(self._bends_c) < 8:
            return 1.0
        bends_c = sorted(self._bends_c)
        return max(_LEAST_C, _OF_SECOND_DIFFERENCE * bends_c[len(bends_c) // 2])

    def c_per_s(self, ago: int = 0, over: int = 4) -> float:
        """Give the slope over `over` half minutes that ended `ago` half minutes ago, °C/s."""
        temps_c = self.temps_c
        return (temps_c[-1 - ago] - temps_c[-1 - ago - over]) / (LENGTH_S * over)

    def steepest_c_per_s(self, kept: int, sign: float = 1.0) -> float:
        """Give the steepest slope over four half minutes among the last `kept`, °C/s; 0 if they are too few.

        With a `sign` of -1 the steepest fall counts, as a positive slope.
        """
        temps_c = self.temps_c[-kept:]
        if len(temps_c) <= 4:
            return 0.0
        return max([sign * (later_c - early_c) for early_c, later_c in zip(temps_c, temps_c[4:], strict=False)]) / (
            4.0 * LENGTH_S
        )

    def line_c_per_s(self, over: int) -> float:
        """Give the least-squares slope through the last `over` half minutes, °C/s."""
        return line_c_per_s(self.temps_c[-over:])

    def _close(self) -> bool:
        middle_s = (self._index + 0.5) * LENGTH_S
        mean_s, mean_c = self._sum_s / self._taken, self._sum_c / self._taken
        self._taken = 0
        self._sum_s = self._sum_c = 0.0
        temps_c = self.temps_c
        missing = round((middle_s - self.last_s) / LENGTH_S) - 1 if temps_c else 0
        if missing > _BRIDGED:
            temps_c.clear()
        if len(temps_c) >= 2:
            # Its buckets may lie to one side of the middle.
            mean_c += (middle_s - mean_s) * (temps_c[-1] - temps_c[-2]) / LENGTH_S
        if temps_c and missing > 0:
            from_c = temps_c[-1]
            temps_c.extend(from_c + (mean_c - from_c) * step / (missing + 1) for step in range(1, missing + 1))
        temps_c.append(mean_c)
        self.last_s = middle_s
        if len(temps_c) >= 3:
            self._bends_c.append(abs(temps_c[-1] - 2.0 * temps_c[-2] + temps_c[-3]))
        if len(temps_c) > self._kept:
            del temps_c[: -self._kept]
        return True


def line_c_per_s(temps_c: Sequence[float]) -> float:
    """Give the least-squares slope through half minutes, °C/s; at least two."""
    weights, size = _line_weights(len(temps_c))
    return dot(weights, temps_c) / size


@cache
def _line_weights(count: int) -> tuple[list[float], float]:
    """Give what each of so many half minutes counts for in a line's slope, and what their sum is to be divided by."""
    middle = 0.5 * (count - 1)
    weights = [number - middle for number in range(count)]
    return weights, sum(weight * weight for weight in weights) * LENGTH_S
