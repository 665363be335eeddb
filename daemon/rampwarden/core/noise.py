"""What the readings scatter by, learnt from the heat itself: white part, flame flicker and its correlation time.

Every margin in the watch is computed from this, so it must be right within a few tens of percent and must not be fooled
by the heat's own shape. It looks only at second differences of neighbouring block means (1, 2, 4 … readings a block,
up to about a minute): a second difference is blind to any straight slope, and the block lengths tell white noise, which
averages away, from flicker, which does not until the block outlasts it. The variances of all lengths are then explained
by one white and one first-order autoregressive part, fitted by least squares over a table of correlation times.

It knows nothing of limits and segments. Cost per reading does not depend on the number of block lengths: each length
is served half as often as the one below it.
"""

import math
from dataclasses import dataclass

from rampwarden.core.model import Noise

_FLICKER_S = tuple(2.0 * 2.0 ** (k / 2) for k in range(12))  # 2 s … 90 s: faster is white, slower is the heat's own

# A longer pause between the first readings is a board that was not there, and says nothing of its pace.
_SLOWEST_PACE_S = 60.0

_PRIOR = Noise(white_c=0.2, flicker_c=1.0, flicker_s=15.0, interval_s=1.0)


@dataclass(frozen=True, slots=True)
class NoiseParameters:
    """How fast the noise is learnt and what is believed before. Common practice, no source, but where said."""

    memory_s: float = 1800.0
    """s, > 0. Half an hour: the flicker belongs to the burner's setting, which is turned a few times an hour."""
    fast_memory_s: float = 120.0
    """s, > 0. Notices a flame that has become rougher; it may only raise what the slow memory says."""
    fast_ratio: float = 2.0
    """> 1. The fast variance must exceed the slow one by this much before it is believed: fifteen blocks scatter."""
    longest_block_s: float = 64.0
    """s, > 0. Longer blocks would see the burner's cycling and the heat's own bends."""
    clip: float = 9.0
    """Squared second differences count for at most this many variances: a corner or a lid is not noise."""
    most_flicker_c: float = 4.0
    """°C, > 0. Beyond this it is a burner that cycles or a probe that fails, and is not to be averaged over."""
    prior: Noise = _PRIOR
    """Believed at the start: between a calm and a rough flame."""
    prior_blocks: float = 6.0
    """How many blocks of each length the prior is worth."""


class _Level:
    """Blocks of one length: the last two means with their times, the half-made pair, and the variances."""

    __slots__ = (
        "count",
        "fast_c2",
        "half_c",
        "half_s",
        "has_half",
        "known",
        "last_c",
        "last_s",
        "past_c",
        "past_s",
        "slow_c2",
    )

    def __init__(self, prior_c2: float) -> None:
        self.slow_c2 = prior_c2
        self.fast_c2 = prior_c2
        self.count = 0.0
        self.forget_blocks()

    def forget_blocks(self) -> None:
        self.known = 0
        self.has_half = False
        self.half_s = self.half_c = 0.0
        self.last_s = self.last_c = 0.0
        self.past_s = self.past_c = 0.0


class NoiseMeter:
    """Learns the scatter of a stream of temperatures. `noise` is always usable; at the start it is the prior."""

    def __init__(self, parameters: NoiseParameters = NoiseParameters()) -> None:
        self._p = parameters
        self._interval_s = parameters.prior.interval_s
        self._intervals = 0
        self._anchor_s = 0.0
        self._last_s = -math.inf
        self._levels: list[_Level] = []
        self._expected: list[list[float]] = []
        self._table_interval_s = 0.0
        self._until_fit = 0
        self.noise = parameters.prior

    def restart(self) -> None:
        """Forget the readings in hand, not what was learnt: for a gap, a change of clock, a moved probe."""
        for level in self._levels:
            level.forget_blocks()
        self._last_s = -math.inf

    def feed(self, time_s: float, temp_c: float) -> None:
        """Learn from one believed temperature (°C) at `time_s` (s, rising from call to call)."""
        gap_s = time_s - self._last_s
        self._last_s = time_s
        if gap_s > 4.0 * self._interval_s:
            if gap_s <= _SLOWEST_PACE_S and self._intervals < 10:
                self._learn_interval(gap_s)
            self.restart()
            self._last_s = self._anchor_s = time_s
        else:
            self._learn_interval(gap_s)
        if abs(self._interval_s - self._table_interval_s) > 0.15 * self._interval_s:
            self._make_table()
        self._add(time_s - self._anchor_s, temp_c)
        self._until_fit -= 1
        if self._until_fit <= 0:
            self._until_fit = 16 if self._intervals < 300 else 64
            self._fit()

    def _learn_interval(self, gap_s: float) -> None:
        self._intervals += 1
        gain = 1.0 / self._intervals if self._intervals < 50 else 0.02
        self._interval_s += gain * (gap_s - self._interval_s)

    def _add(self, time_s: float, temp_c: float) -> None:
        """Pass a reading up through the block lengths as far as it completes blocks."""
        p = self._p
        span_s = self._table_interval_s
        for level in self._levels:
            if level.known == 2:
                ratio = (time_s - level.last_s) / (level.last_s - level.past_s)
                bend_c = temp_c - level.last_c - ratio * (level.last_c - level.past_c)
                square = 6.0 * bend_c * bend_c / (1.0 + (1.0 + ratio) * (1.0 + ratio) + ratio * ratio)
                count = level.count
                # Never above one: blocks longer than the memory would make a variance negative.
                gain = min(max(1.0 / (count + p.prior_blocks), span_s / p.memory_s), 1.0)
                level.count = count + 1.0
                slow = level.slow_c2
                level.slow_c2 = slow + gain * (min(square, p.clip * slow) - slow)
                gain = max(gain, min(span_s / p.fast_memory_s, 0.2))
                fast = level.fast_c2
                level.fast_c2 = fast + gain * (min(square, p.clip * fast) - fast)
            else:
                level.known += 1
            level.past_s, level.past_c = level.last_s, level.last_c
            level.last_s, level.last_c = time_s, temp_c
            if not level.has_half:
                level.has_half = True
                level.half_s, level.half_c = time_s, temp_c
                return
            level.has_half = False
            time_s = 0.5 * (time_s + level.half_s)
            temp_c = 0.5 * (temp_c + level.half_c)
            span_s += span_s

    def _make_table(self) -> None:
        """Work out, for the present interval, what each correlation time would show at each block length."""
        interval_s = self._table_interval_s = self._interval_s
        lengths = max(3, 1 + round(math.log2(max(self._p.longest_block_s / interval_s, 1.0))))
        self._expected = [[_bend_variance(interval_s, 2**k, tau_s) for k in range(lengths)] for tau_s in _FLICKER_S]
        prior = self._p.prior
        self._levels = [
            _Level(
                6.0 * prior.white_c**2 / 2**k + prior.flicker_c**2 * _bend_variance(interval_s, 2**k, prior.flicker_s)
            )
            for k in range(lengths)
        ]

    def _fit(self) -> None:
        p = self._p
        seen = [
            level.fast_c2 if level.fast_c2 > p.fast_ratio * level.slow_c2 else level.slow_c2 for level in self._levels
        ]
        weights = [
            min(level.count + p.prior_blocks, p.memory_s / (self._table_interval_s * 2**k))
            for k, level in enumerate(self._levels)
        ]
        best = (math.inf, 0.0, 0.0, 0.0)
        for tau_s, expected in zip(_FLICKER_S, self._expected, strict=True):
            misfit, white_c2, flicker_c2 = _explain(seen, weights, expected)
            if misfit < best[0]:
                best = (misfit, white_c2, flicker_c2, tau_s)
        _, white_c2, flicker_c2, tau_s = best
        self.noise = Noise(
            white_c=math.sqrt(max(white_c2, 1e-6)),
            flicker_c=min(math.sqrt(flicker_c2), p.most_flicker_c),
            flicker_s=tau_s,
            interval_s=self._interval_s,
        )


def _explain(seen: list[float], weights: list[float], expected: list[float]) -> tuple[float, float, float]:
    """Fit white and flicker variance (°C²), neither below zero, to relative misfit; gives misfit, white, flicker."""
    ww = wf = ff = w1 = f1 = total = 0.0
    white = 6.0
    for value, weight, flicker in zip(seen, weights, expected, strict=True):
        w, f = white / value, flicker / value
        ww += weight * w * w
        wf += weight * w * f
        ff += weight * f * f
        w1 += weight * w
        f1 += weight * f
        total += weight
        white *= 0.5
    determinant = ww * ff - wf * wf
    if determinant > 1e-9 * ww * ff:
        white_c2 = (w1 * ff - f1 * wf) / determinant
        flicker_c2 = (f1 * ww - w1 * wf) / determinant
    else:
        white_c2, flicker_c2 = w1 / ww, 0.0
    if flicker_c2 < 0.0:
        white_c2, flicker_c2 = w1 / ww, 0.0
    elif white_c2 < 0.0:
        white_c2, flicker_c2 = 0.0, f1 / ff
    return total - white_c2 * w1 - flicker_c2 * f1, white_c2, flicker_c2


def _bend_variance(interval_s: float, readings: int, tau_s: float) -> float:
    """Give the variance of a second difference of block means of unit first-order autoregressive noise."""
    phi = math.exp(-interval_s / tau_s)
    m = readings
    edge = 1.0 - phi
    same = (m * (1.0 - phi * phi) - 2.0 * phi * (1.0 - phi**m)) / (m * m * edge * edge)
    next_one = phi * ((1.0 - phi**m) / (m * edge)) ** 2
    return 6.0 * same - 8.0 * next_one + 2.0 * next_one * phi**m
