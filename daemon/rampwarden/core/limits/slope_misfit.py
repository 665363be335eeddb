"""How far the slope now may be from the mean slope of the window, beyond chance: a line does not fit across a corner.

The window is cut into eight blocks. What their means have of a parabola, of a cubic, and of a bend one or two blocks
ago says by how much the slope at the window's end differs from the line's. What the noise alone would show of that is
known from its law, and only what exceeds it counts: on a straight course there is no misfit. Own arithmetic.

It is worked out when somebody looks, which is more seldom than blocks end.
"""

import math
from collections import deque
from functools import cache

from msgspec import Struct

from rampwarden.core.model import Noise

_BLOCKS = 8
_FEWEST = 4
_BEYOND = 3.0
"""Variances of the noise that are chance."""
_SHARE = 0.6
"""Share of the excess that is one standard error: two of them hold the slope now from an eighth of the window after a
clear corner on. Before that no mean of a block has seen it."""
_BENDS = (1, 2)
"""Blocks ago that the course may have bent: a parabola takes a bend so fresh for a slight one."""


class SlopeMisfit:
    """Keeps the means of the blocks that make up the last `window_s` seconds."""

    __slots__ = ("_block_s", "_blocks", "_c_per_s", "_count", "_ends_s", "_noise", "_sum_c", "_sum_s")

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
        self._c_per_s = 0.0
        # By which the last block was closed, until somebody asks what it showed.
        self._noise: Noise | None = None

    @property
    def c_per_s(self) -> float:
        """The misfit as a standard error of the slope now, °C/s; 0 while too few blocks are known."""
        if self._noise is not None:
            self._c_per_s, self._noise = self._misfit(self._noise), None
        return self._c_per_s

    def needs_slope(self, time_s: float) -> bool:
        """Whether a reading at `time_s` (s) closes the first block: only then the line's slope is asked for."""
        return not self._blocks and self._count > 0 and time_s >= self._ends_s

    def feed(self, time_s: float, temp_c: float, slope_c_per_s: float, noise: Noise) -> None:
        """Take a reading (s, °C); where it closes the first block, with the slope of the window's line through it."""
        if time_s >= self._ends_s:
            if self._count:
                self._close(slope_c_per_s, noise)
            if time_s >= self._ends_s + self._block_s:
                # Nothing was read in a whole block, or it begins: no course is drawn across that.
                self._blocks.clear()
                self._c_per_s, self._noise = 0.0, None
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
        mean_c = self._sum_c / self._count
        if self._blocks:
            # By the slope from the block before: across a corner the line's own would bend what is straight.
            slope_c_per_s = (mean_c - self._blocks[-1][0]) / (self._block_s + off_s)
        self._blocks.append((mean_c - slope_c_per_s * off_s, self._count))
        self._noise = noise if len(self._blocks) >= _FEWEST else None

    def _misfit(self, noise: Noise) -> float:
        """Give what the blocks show beyond this noise, °C/s."""
        means_c = [mean_c for mean_c, _ in self._blocks]
        count = len(means_c)
        base_c = means_c[0]
        half_s = 0.5 * count * self._block_s
        apart = _covariances_c2(noise, self._block_s, min(each for _, each in self._blocks), count)
        rises_c = [mean_c - base_c for mean_c in means_c]
        most = best = 0.0
        for account in _accounts(count):
            fits = sum(_along(rises_c, each) ** 2 for each in account.shapes)
            off2 = _along(rises_c, account.weights) ** 2 - _BEYOND * _along(apart, account.alike)
            # A fresh bend counts where it explains more than any curve: of an old one it would make far too much.
            if fits > best or not account.is_bend:
                most = max(most, off2)
            best = max(best, fits)
        return _SHARE * math.sqrt(most) / half_s


def _along(values: list[float], weights: tuple[float, ...]) -> float:
    return sum(weight * value for weight, value in zip(weights, values, strict=True))


def _covariances_c2(noise: Noise, block_s: float, readings: int, count: int) -> list[float]:
    """Give the covariance (°C²) of two blocks' means that are 0, 1, 2 … blocks apart."""
    x = block_s / noise.flicker_s
    flicker_c2 = (noise.spread * noise.flicker_c) ** 2
    gone = math.exp(-x)
    here = 2.0 * (x - 1.0 + gone) / (x * x) if x > 0.01 else 1.0
    there = ((1.0 - gone) / x) ** 2
    lags = [flicker_c2 * there * gone ** (apart - 1) for apart in range(1, count)]
    return [flicker_c2 * here + noise.white_c * noise.white_c / readings, *lags]


class _Account(Struct, frozen=True, gc=False):
    """What may explain the blocks' means beside a line, and what that takes the slope at the end for, in half windows.

    `weights` give that from the means, `alike` its variance from their covariances 0, 1, 2 … blocks apart; the squares
    along `shapes` (of unit length, upright to each other and to any line) add up to how much of the misfit it explains.
    """

    weights: tuple[float, ...]
    alike: tuple[float, ...]
    shapes: tuple[tuple[float, ...], ...]
    is_bend: bool = False


@cache
def _accounts(count: int) -> tuple[_Account, ...]:
    """Give the accounts of so many blocks: a parabola, a cubic, and bends of one or two blocks ago."""
    places = [(2.0 * n + 1.0) / count - 1.0 for n in range(count)]
    squares = sum(place**2 for place in places)
    mean_square, slant = squares / count, sum(place**4 for place in places) / squares
    second = [place**2 - mean_square for place in places]
    third = [place**3 - slant * place for place in places]
    by_second = [2.0 * one / sum(each * each for each in second) for one in second]
    cubic = sum(each * each for each in third)
    by_third = [a + (3.0 - slant) * b / cubic for a, b in zip(by_second, third, strict=True)]
    parabola, wave = _unit(second), _unit(third)
    accounts = [
        _Account(tuple(by_second), _alike(by_second), (parabola,)),
        _Account(tuple(by_third), _alike(by_third), (parabola, wave)),
    ]
    for ago in _BENDS:
        bent = [max(0.0, place - 1.0 + 2.0 * ago / count) for place in places]
        level = sum(bent) / count
        by_line = sum(one * place for one, place in zip(bent, places, strict=True)) / squares
        beside = [one - level - by_line * place for one, place in zip(bent, places, strict=True)]
        most = sum(each * each for each in beside)
        by_bend = [(1.0 - by_line) * each / most for each in beside]
        accounts.append(_Account(tuple(by_bend), _alike(by_bend), (_unit(beside),), is_bend=True))
    return tuple(accounts)


def _unit(shape: list[float]) -> tuple[float, ...]:
    length = math.sqrt(sum(each * each for each in shape))
    return tuple(each / length for each in shape)


def _alike(weights: list[float]) -> tuple[float, ...]:
    """Sums of products 0, 1, 2 … blocks apart, each pair counted twice."""
    sums = [sum(one * other for one, other in zip(weights, weights[n:], strict=False)) for n in range(len(weights))]
    return (sums[0], *(2.0 * each for each in sums[1:]))
