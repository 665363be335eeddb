"""A plateau where no pure metal has one, but would have one were the probe of another type: the wrong type is set.

Pure metals melt and freeze at one temperature (ITS-90 fixed points). A probe of type N on a board set for type K shows
aluminium melting at 558 °C. But a person who holds the heat for some minutes draws a level course as well. What tells
them apart is how it ends: metal that has melted lets the climb go on as it was within a minute, since the furnace
around it was heated all the time, while a furnace whose heat was turned down and up again needs its own minutes to
climb as before. So nothing is said before the level has ended, sharply.

It looks once a minute, and knows neither segments nor marks.
"""

from collections import deque
from collections.abc import Callable, Iterable

from rampwarden.core.model import FREEZING_POINTS_C, Finding, Noise, Trend
from rampwarden.core.noise_formulas import mean_error_c

AsOtherTypes = Callable[[float], Iterable[tuple[str, float]]]
"""What a temperature (°C) would be had its voltage come from another type of thermocouple: letter and °C of each."""

_BLOCK_S = 60.0
_MIXED_UP_WITHIN_C = 6.0
"""°C. So near another type must put a plateau to a metal's point: a new class 2 wire at the copper point."""
# When a course stands, and when it goes on. Common practice, no source.
_FLAT = 0.15
"""Share of the rate before that may be left on a plateau."""
_FLAT_C = 1.5
"""°C, beside the noise, within which a plateau must lie: a course that turns passes this in a minute or two."""
_CORNER = 0.75
"""Share of the rate before that must have been left just before the corner: what turns has slowed down by then."""
_GOES_ON = 0.8
"""Share of the rate before with which it must go on: a furnace turned up again has half of it in its first minutes."""
_FLAT_BLOCKS = 4
"""Minutes that a plateau must have lasted."""
_LEAST_C_PER_MIN = 1.0
"""°C/min, > 0. A slower course than this stands still for other reasons."""
_NEAR_C = 12.0
"""°C. So near to a metal's own point a plateau is taken for it: class 2 wire and some drift."""


class ForeignPlateauWatch:
    """Sees a course stand still for minutes at no metal's point and go on sharply; `finding` stays once it is found."""

    def __init__(self, as_other_types: AsOtherTypes) -> None:
        self._as_other_types = as_other_types
        self._blocks: deque[tuple[float, float]] = deque(maxlen=2 * _FLAT_BLOCKS + 3)
        self.finding: Finding | None = None
        self.restart()

    def restart(self) -> None:
        """Forget what was: another kind of segment begins, or a gap lies between."""
        self._blocks.clear()
        self._from_s: float | None = None
        self._sum_s = self._sum_c = 0.0
        self._count = 0
        self._level_c: float | None = None
        self._before = self._spread_c = 0.0
        self._left: tuple[float, float] | None = None

    def feed(self, trend: Trend, noise: Noise, *, falling: bool) -> None:
        """Judge the trend of a climb, or of a cooling if `falling`."""
        if self._from_s is None or trend.time_s - self._from_s > 3.0 * _BLOCK_S:
            self.restart()
            self._from_s = trend.time_s
        if trend.time_s - self._from_s >= _BLOCK_S and self._count:
            self._blocks.append((self._sum_s / self._count, self._sum_c / self._count))
            self._sum_s = self._sum_c = 0.0
            self._count = 0
            self._from_s = trend.time_s
            sign = -1.0 if falling else 1.0
            if self._level_c is None:
                self._look_for_level(noise, sign)
            else:
                self._wait_for_end(self._level_c, sign)
        self._sum_s += trend.time_s
        self._sum_c += trend.temp_c
        self._count += 1

    def _look_for_level(self, noise: Noise, sign: float) -> None:
        blocks = self._blocks
        if len(blocks) < 2 * _FLAT_BLOCKS + 3:
            return
        flat_from, flat_to = blocks[-_FLAT_BLOCKS], blocks[-1]
        # Two blocks between hold the corner.
        rate_from, rate_to = blocks[0], blocks[-_FLAT_BLOCKS - 2]
        flat = sign * _rate(flat_from, flat_to)
        before = sign * _rate(rate_from, rate_to)
        corner = sign * _rate(blocks[-_FLAT_BLOCKS - 3], rate_to)
        block_error_c = mean_error_c(noise, _BLOCK_S)
        error = 2.0**0.5 * block_error_c / (flat_to[0] - flat_from[0])
        fast_enough = before >= _LEAST_C_PER_MIN / 60.0 and error < 0.5 * _FLAT * before
        level = [temp_c for _, temp_c in list(blocks)[-_FLAT_BLOCKS:]]
        spread_c = _FLAT_C + 4.0 * block_error_c
        stands = abs(flat) <= _FLAT * before and max(level) - min(level) <= spread_c
        if fast_enough and stands and corner >= _CORNER * before:
            self._level_c, self._before, self._spread_c = sum(level) / _FLAT_BLOCKS, before, spread_c

    def _wait_for_end(self, level_c: float, sign: float) -> None:
        """See how the level ends: sharply, or as a furnace does that is turned up again."""
        last = self._blocks[-1]
        if self._left is not None:
            goes_on = sign * _rate(self._left, last) >= _GOES_ON * self._before
            self._level_c = self._left = None
            if goes_on:
                self._judge(level_c)
        elif abs(last[1] - level_c) > self._spread_c:
            self._left = last

    def _judge(self, level_c: float) -> None:
        """See whether another type of thermocouple would make this a metal's point."""
        if any(abs(level_c - point_c) <= _NEAR_C for point_c in FREEZING_POINTS_C.values()):
            return
        fits = self._other_types(level_c)
        if fits:
            would = ", ".join(f"as type {letter} it would be {metal}'s" for letter, metal in fits)
            letters = " or ".join(letter for letter, _ in fits)
            what = (
                f"a plateau at {level_c:.0f} °C, where no pure metal has one; {would}: "
                f"possibly the probe is of type {letters}"
            )
            self.finding = Finding(round(level_c, 1), None, "°C", what)

    def _other_types(self, temp_c: float) -> list[tuple[str, str]]:
        """Give the types under which this reading would be a pure metal's point, each with its metal."""
        fits = []
        for letter, other_c in self._as_other_types(temp_c):
            metals = [
                metal for metal, point_c in FREEZING_POINTS_C.items() if abs(other_c - point_c) <= _MIXED_UP_WITHIN_C
            ]
            if metals:
                fits.append((letter, metals[0]))
        return fits


def _rate(early: tuple[float, float], late: tuple[float, float]) -> float:
    return (late[1] - early[1]) / (late[0] - early[0])
