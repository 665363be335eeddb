"""Readings of two probes as pairs on one grid: what pot and chamber showed in the same ten seconds."""

from msgspec import Struct

LENGTH_S = 10.0
"""s. Some lags of a probe make a step; a board that reads each two seconds still gives five readings a pair."""
_FEWEST = 1


class Pair(Struct, frozen=True, gc=False):
    """Means over the same `LENGTH_S` seconds around `time_s` (s): the pot's probe and the chamber's, °C."""

    time_s: float
    pot_c: float
    chamber_c: float


class _Mean:
    """A mean under way."""

    __slots__ = ("_count", "_sum_c", "_sum_s")

    def __init__(self) -> None:
        self._count, self._sum_s, self._sum_c = 0, 0.0, 0.0

    def add(self, time_s: float, temp_c: float) -> None:
        self._count, self._sum_s, self._sum_c = self._count + 1, self._sum_s + time_s, self._sum_c + temp_c

    def taken(self) -> tuple[float, float] | None:
        """Give mean time and temperature, and begin anew; None where too little came."""
        count, sum_s, sum_c = self._count, self._sum_s, self._sum_c
        self._count, self._sum_s, self._sum_c = 0, 0.0, 0.0
        return None if count < _FEWEST else (sum_s / count, sum_c / count)


class PairMeter:
    """Joins believed readings of both probes; where one of them is silent there is no pair."""

    def __init__(self) -> None:
        self._pot, self._chamber = _Mean(), _Mean()
        self._ends_s: float | None = None

    def feed(self, time_s: float, temp_c: float, *, on_pot: bool) -> Pair | None:
        """Take a reading (s, °C) of either; gives the pair that it completes.

        Their order matters little: one that comes late counts into the pair that is under way.
        """
        found = None
        if self._ends_s is None:
            self._ends_s = time_s + LENGTH_S
        elif time_s >= self._ends_s:
            pot, chamber = self._pot.taken(), self._chamber.taken()
            if pot is not None and chamber is not None:
                found = Pair(0.5 * (pot[0] + chamber[0]), pot[1], chamber[1])
            self._ends_s += LENGTH_S * (1.0 + (time_s - self._ends_s) // LENGTH_S)
        (self._pot if on_pot else self._chamber).add(time_s, temp_c)
        return found
