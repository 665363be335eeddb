"""How far the slope now may be from the mean slope of the window, beyond chance: a line does not fit across a corner.

The window is cut into eight blocks. What their means have of a parabola, and of a cubic, says by how much the slope at
the window's end differs from the line's. What the noise alone would show of that is known from its law, and only what
exceeds it counts: on a straight course there is no misfit. Own arithmetic.
"""

import math
from collections import deque
from functools import cache

from rampwarden.core.model import Noise

_BLOCKS = 8
_FEWEST = 4
_BEYOND = 3.0
"""Variances of the noise that are chance."""
_SHARE = 0.6
"""Share of the excess that is one standard error: two of them hold the slope now from a quarter of the window after a
clear corner on."""


class SlopeMisfit:
    """Keeps the means of the blocks that make up the last `window_s` seconds."""

    __slots__ = ("_block_s", "_blocks", "_count", "_ends_s", "_sum_c", "_sum_s", "c_per_s")

    def __init__(self, window_s: float) -> None:
        self._block_s = window_s / _BLOCKS
        self._blocks: deque[tuple[float, int]] = deque(maxlen=_BLOCKS)
        self.restart()

    def restart(self) -> None:
        """Forget everything."""
        self._blocks.clear()
        self._ends_s = -math.inf
        self._count = 0
        self._sum_s = self._sum_c = 0.0
        self.c_per_s = 0.0
        """The misfit as a standard error of the slope now, °C/s."""

    def closes(self, time_s: float) -> bool:
        """Whether a reading at `time_s` (s) closes a block: only then its line's slope is asked for."""
        return time_s >= self._ends_s and self._count > 0

    def feed(self, time_s: float, temp_c: float, slope_c_per_s: float, noise: Noise) -> None:
        """Take a reading (s, °C); where it closes a block, with the slope of the window's line through it."""
        if time_s >= self._ends_s:
            if self._count:
                self._close(slope_c_per_s, noise)
            if time_s >= self._ends_s + self._block_s:
                # Nothing was read in a whole block, or it begins: no course is drawn across that.
                self._blocks.clear()
                self.c_per_s = 0.0
                self._ends_s = time_s + self._block_s
            else:
                self._ends_s += self._block_s
            self._count = 0
            self._sum_s = self._sum_c = 0.0
        self._count += 1
        self._sum_s += time_s - self._ends_s
        self._sum_c += temp_c

    def _close(self, slope_c_per_s: float, noise: Noise) -> None:
        # The mean, moved from its readings' middle to the block's, which are not the same at an uneven pace.
        off_s = self._sum_s / self._count + 0.5 * self._block_s
        self._blocks.append((self._sum_c / self._count - slope_c_per_s * off_s, self._count))
        means_c = [mean_c for mean_c, _ in self._blocks]
        count = len(means_c)
        if count < _FEWEST:
            return
        base_c = means_c[0]
        half_s = 0.5 * count * self._block_s
        apart = _covariances_c2(noise, self._block_s, min(each for _, each in self._blocks), count)
        most = 0.0
        for weights, alike in _accounts(count):
            off = sum(weight * (mean_c - base_c) for weight, mean_c in zip(weights, means_c, strict=True))
            chance = sum(one * other for one, other in zip(alike, apart, strict=True))
            most = max(most, off * off - _BEYOND * chance)
        self.c_per_s = _SHARE * math.sqrt(most) / half_s


def _covariances_c2(noise: Noise, block_s: float, readings: int, count: int) -> list[float]:
    """Give the covariance (°C²) of two blocks' means that are 0, 1, 2 … blocks apart."""
    x = block_s / noise.flicker_s
    flicker_c2 = (noise.spread * noise.flicker_c) ** 2
    gone = math.exp(-x)
    here = 2.0 * (x - 1.0 + gone) / (x * x) if x > 0.01 else 1.0
    there = ((1.0 - gone) / x) ** 2
    lags = [flicker_c2 * there * gone ** (apart - 1) for apart in range(1, count)]
    return [flicker_c2 * here + noise.white_c * noise.white_c / readings, *lags]


@cache
def _accounts(count: int) -> tuple[tuple[tuple[float, ...], tuple[float, ...]], ...]:
    """Give what takes the slope at the end, beside the line's, from so many blocks: by a parabola, and by a cubic.

    In half windows; with each its sums of products 0, 1, 2 … blocks apart, each pair counted twice.
    """
    places = [(2.0 * n + 1.0) / count - 1.0 for n in range(count)]
    squares = sum(place**2 for place in places)
    mean_square, slant = squares / count, sum(place**4 for place in places) / squares
    second = [place**2 - mean_square for place in places]
    third = [place**3 - slant * place for place in places]
    by_second = [2.0 * one / sum(each * each for each in second) for one in second]
    cubic = sum(each * each for each in third)
    by_third = [a + (3.0 - slant) * b / cubic for a, b in zip(by_second, third, strict=True)]
    return tuple((tuple(each), _alike(each)) for each in (by_second, by_third))


def _alike(weights: list[float]) -> tuple[float, ...]:
    sums = [sum(one * other for one, other in zip(weights, weights[n:], strict=False)) for n in range(len(weights))]
    return (sums[0], *(2.0 * each for each in sums[1:]))
