"""What the readings scatter by, learnt from the heat itself: white part, flame flicker and its correlation time.

Every margin in the watch is computed from this, so it must be right within a tenth or two and must not be fooled by
the heat's own shape. It looks only at second differences of neighbouring block means, for blocks of 1, 2, 4 … readings
up to about two minutes (the Hadamard variance of time keeping). A second difference is blind to any straight slope, and
the block lengths tell white noise, which averages away, from flicker, which does not until the block outlasts it. One
white and one first-order autoregressive part are then fitted to the variances of all lengths.

Two memories: a slow one for the fit, and a fast one over the short blocks that notices a flame grown rougher and may
only raise what the slow one says, at unchanged colour. What is not yet known counts as noise (`unknown`).

The burner's own doing is not noise, and long blocks see little else where a burner cycles or a dial is turned in
notches. So the lengths of 1 to 16 s are learnt a second time, each second difference clipped hard: bends of the course
are few among so short blocks and fall to the clip. They cannot tell a correlation time; one is taken for all fires, and
their account is used where it finds clearly less flicker than the whole fit does (`_by_short_blocks`).

Knows nothing of limits, segments or alarms. Cost per reading does not depend on the number of lengths: each length is
served half as often as the one before.
"""

import math

from rampwarden.core.limits.block_ladder import BlockLadder, BlockLength
from rampwarden.core.model import Noise
from rampwarden.core.noise_formulas import bend_variance, white_and_flicker

_FLICKER_S = tuple(2.0 * 2.0 ** (k / 3) for k in range(18))  # 2 s … 100 s: faster is white, slower is the heat's own
_LEAST_C2 = 1e-6  # (0.001 °C)²: no probe is quieter, and a variance of nothing could never grow again
_RESTART_GAPS = 4.0  # a pause of so many intervals breaks the chain of blocks
_MISSING_FROM = 1.5  # a gap of so many intervals has readings missing in it …
_MISSING_IN_ROW = 3  # … unless it comes so often in a row: then it is a slower pace
_SLOWEST_PACE_S = 60.0  # a longer pause is a board that was not there, and says nothing of its pace
_FEWEST_BLOCKS = 6  # a length has a say once so many of its blocks were compared
_SHORT_LENGTHS = 3  # block lengths the fast memory looks at: enough to see flicker, short enough to see it soon
_SETTLED_READINGS = 600  # until then a fit every 16 readings, later every 128


# How fast the noise is learnt and what is believed before. Measured by the ramp benchmark, no other source.
_MEMORY_S = 3600.0
"""s, > 0. Flicker of 30 s gives only two independent looks a minute: an hour to know it to a tenth."""
_FAST_MEMORY_S = 40.0
"""s, > 0. A rougher flame must be noticed before it looks like a ramp."""
_FAST_DEVIATIONS = 5.0
"""> 0. Standard errors by which the fast variances must exceed the slow ones: a bend of the ramp gives three."""
_NEW_FLAME_S = 120.0
"""s, > 0. A flame rougher for so long is a new one and learnt afresh; a lid or a corner is over by then."""
_LEAST_S = 120.0
"""s, >= 0. The prior holds so long."""
_LONGEST_BLOCK_S = 128.0
"""s, > 0. Longer blocks would see the burner's cycling and the heat's own bends."""
_DOUBT = 0.03
"""Relative variance by which the model itself may be wrong; keeps short blocks, which are many, from ruling."""
_WARY = 10.0
"""Extra weight of long blocks that scatter more than the model: too small a noise there cries wolf."""
_MOST_GROWTH = 4.0
"""> 1. A variance counts for at most so many times the last fit's: a bend in few long blocks is not flicker."""
_TAU_WEIGHT = 1.0
"""How far the prior's correlation time is held to while few long blocks are known."""
_UNKNOWN = 10.0
"""Flicker is raised by the factor 1 + unknown × τ/time learnt: a threshold of c deviations, themselves known to a
relative u, is passed by chance as one of c (1 - c² u²/2) would be; u² is about 2 τ/time, c about 4.3."""
_SHORT_S = (1.0, 16.0)
"""s. The shortest and the longest blocks of the second account: above white noise, below the burner's doing."""
_SHORT_TAU_INDEX = 11
"""Where `_FLICKER_S` has 25 s, the correlation time of that account: short blocks see σ²/τ, so a faster flame's flicker
is overstated and a slower one's a little understated."""
_CLEARLY_LESS = 0.65
"""The second account is used where its flicker is below this share of the whole fit's."""
_BENT_BY_CHANCE = 1.2
"""So far chance alone may bend the law of one time constant within an hour."""
_MOST_SPREAD = 1.35
"""Sums of time constants from 2 to 128 s ask for so much; what is slower still is the heat's own."""
MOST_FLICKER_C = 5.0
"""°C, > 0. Three times a rough flame's 1.5; beyond this a probe fails, and that is not to be averaged over."""
PRIOR_WHITE_C = 0.25
"""°C. Believed at the start: a rough flame, so that ignorance is silent."""
PRIOR_FLICKER_C = 1.5
"""°C."""
_PRIOR_FLICKER_S = 20.0
"""s."""


class NoiseMeter:
    """Learns the scatter of a stream of temperatures. `noise` is always usable; at the start it is the prior."""

    def __init__(self) -> None:
        self._interval_s = 1.0
        self._intervals = 0
        self._pauses = 0
        self._missing_in_row = 0
        self._last_s = -math.inf
        self._anchor_s = 0.0
        self._until_check = 1
        self._until_fit = 0
        self._rougher = 1.0
        self._rough_from_s = math.inf
        self._rough_until_s = -math.inf
        self._assume_prior()

    def _assume_prior(self) -> None:
        self._tau_index = min(range(len(_FLICKER_S)), key=lambda k: abs(_FLICKER_S[k] - _PRIOR_FLICKER_S))
        self._white_c = PRIOR_WHITE_C
        self._flicker_c = PRIOR_FLICKER_C
        self._begun_s = math.inf
        self._make_lengths()
        self.noise = Noise(PRIOR_WHITE_C, PRIOR_FLICKER_C, _PRIOR_FLICKER_S, self._interval_s, 0.0)

    def restart(self) -> None:
        """Forget the readings in hand, not what was learnt: for a gap, a change of clock, a moved probe."""
        for length in self._lengths:
            length.forget_blocks()
        self._last_s = -math.inf

    def begin_anew(self) -> None:
        """Forget what was learnt as well: another fire is lit; until it is known the prior's rough one is assumed."""
        self._rougher = 1.0
        self._rough_from_s, self._rough_until_s = math.inf, -math.inf
        self._assume_prior()
        self._last_s = -math.inf

    def feed(self, time_s: float, temp_c: float) -> None:
        """Learn from one believed temperature (°C) at `time_s` (s, rising from call to call)."""
        gap_s = time_s - self._last_s
        if gap_s <= 0.0:
            return
        self._last_s = time_s
        if self._begun_s == math.inf:
            self._begun_s = time_s
        if gap_s > _RESTART_GAPS * self._interval_s:
            self._pass_gap(time_s, gap_s)
        else:
            self._pauses = 0
            intervals = self._intervals = self._intervals + 1
            if gap_s > _MISSING_FROM * self._interval_s and intervals > _MISSING_IN_ROW:
                gap_s = self._pass_missing(gap_s)
            else:
                self._missing_in_row = 0
            self._interval_s += (gap_s - self._interval_s) / (intervals if intervals < 50 else 50)
        self._until_check -= 1
        if self._until_check <= 0:
            self._until_check += 8
            self._check(time_s)
        self._ladder.add(time_s - self._anchor_s, temp_c)

    def _pass_gap(self, time_s: float, gap_s: float) -> None:
        """Begin new blocks after a gap; gaps one after another are a slower pace."""
        self._pauses += 1
        if gap_s <= _SLOWEST_PACE_S and (self._intervals == 0 or self._pauses >= 8):
            self._interval_s = gap_s
            self._intervals = 1
        for length in self._lengths:
            length.forget_blocks()
        self._anchor_s = time_s

    def _pass_missing(self, gap_s: float) -> float:
        """Leave the places of missing readings empty; gives the pace that this gap (s) shows."""
        self._missing_in_row += 1
        if self._missing_in_row > _MISSING_IN_ROW:
            return gap_s
        missing = round(gap_s / self._interval_s) - 1
        self._missing += missing
        self._until_check -= missing
        for _ in range(missing):
            self._ladder.leave_empty()
        return gap_s / (missing + 1)

    def _check(self, time_s: float) -> None:
        """Every few readings: is the pace still what the tables are for, has the flame grown rougher, is a fit due?"""
        if abs(self._interval_s - self._table_interval_s) > 0.15 * self._interval_s:
            self._make_lengths()
        first = self._lengths[0].count
        if first < _FEWEST_BLOCKS or (first + self._missing) * self._table_interval_s < _LEAST_S:
            return
        self._until_fit -= 1
        due = self._until_fit <= 0
        if due:
            self._until_fit = 2 if self._lengths[0].count < _SETTLED_READINGS else 16
            self._fit()
        rougher = self._rougher_by()
        if rougher > 1.0:
            self._rough_until_s = time_s + _FAST_MEMORY_S
            if time_s - self._rough_from_s > _NEW_FLAME_S:
                self._learn_afresh(rougher)
                due, rougher = True, 1.0
        elif time_s > self._rough_until_s:
            self._rough_from_s = time_s
        if due or not 0.8 < rougher / self._rougher < 1.25:
            self._rougher = rougher
            self._publish()

    def _make_lengths(self) -> None:
        """Set up the block lengths for the present interval, and what each correlation time would show at each."""
        interval_s = self._table_interval_s = self._interval_s
        self._missing = 0
        lengths = max(_SHORT_LENGTHS, 1 + round(math.log2(max(_LONGEST_BLOCK_S / interval_s, 1.0))))
        self._expected = [[bend_variance(interval_s, 2**k, tau_s) for k in range(lengths)] for tau_s in _FLICKER_S]
        self._set_reference(lengths)
        self._lengths = [BlockLength(variance_c2) for variance_c2 in self._reference]
        first = min(max(0, round(math.log2(1.0 / interval_s))), lengths - _SHORT_LENGTHS)  # blocks of a second
        self._short = range(first, first + _SHORT_LENGTHS)
        fast_s = max(_FAST_MEMORY_S, 30.0 * interval_s)
        self._fast_blocks = [fast_s / (interval_s * 2**k) for k in self._short]
        shortest_s, longest_s = _SHORT_S
        self._middle = max(2, round(math.log2(16.0 / interval_s)))
        self._second = [k for k in range(lengths) if 0.7 * shortest_s <= interval_s * 2**k <= 1.5 * longest_s]
        if len(self._second) < _SHORT_LENGTHS:
            self._second = []
        self._ladder = BlockLadder(
            [
                (
                    length,
                    min(1.0, interval_s * 2**k / _MEMORY_S),
                    interval_s * 2**k / fast_s if k in self._short else 0.0,
                    k in self._second,
                )
                for k, length in enumerate(self._lengths)
            ]
        )
        self._until_fit = 0

    def _set_reference(self, lengths: int) -> None:
        """Note what the present model says each length should show; the next fit is relative to it."""
        white_c2 = self._white_c * self._white_c
        flicker_c2 = self._flicker_c * self._flicker_c
        expected = self._expected[self._tau_index]
        self._reference = [6.0 * white_c2 / 2**k + flicker_c2 * expected[k] for k in range(lengths)]

    def _fit(self) -> None:
        """Explain the slow variances by one white and one flicker part."""
        seen: list[float] = []
        weights: list[float] = []
        last = len(self._lengths) - 1
        for k, length in enumerate(self._lengths):
            value = min(max(length.slow_c2, _LEAST_C2) / self._reference[k], _MOST_GROWTH)
            blocks = min(length.count, 2.0 * _MEMORY_S / (self._table_interval_s * 2**k))
            weight = blocks / (4.0 + _DOUBT * blocks)
            if value > 1.0:
                weight *= 1.0 + _WARY * (k / last) ** 2 * min(1.0, blocks / 20.0)
            seen.append(value)
            weights.append(weight if length.count >= _FEWEST_BLOCKS else 0.0)
        least = math.inf
        for index, expected in enumerate(self._expected):
            misfit, white_c2, flicker_c2 = white_and_flicker(seen, weights, expected, self._reference)
            misfit += _TAU_WEIGHT * math.log(_FLICKER_S[index] / _PRIOR_FLICKER_S) ** 2
            if misfit < least:
                least = misfit
                self._tau_index = index
                self._white_c = math.sqrt(max(white_c2, _LEAST_C2))
                self._flicker_c = math.sqrt(flicker_c2)
        self._set_reference(last + 1)
        for length, likely_c2 in zip(self._lengths, self._reference, strict=True):
            # One bend among a few long blocks is not flicker: cut to what the better known lengths make plausible.
            if length.count < 3 * _FEWEST_BLOCKS:
                length.slow_c2 = min(length.slow_c2, _MOST_GROWTH * likely_c2)

    def _by_short_blocks(self) -> tuple[float, float, float]:
        """Give white and flicker part (°C) and correlation time (s): the whole fit's, or the short blocks' if smaller.

        A burner that cycles within its limit, or a pot carried into a flame, puts bends into every long block. What
        short blocks see of them is little and clipped.
        """
        whole = self._white_c, self._flicker_c, _FLICKER_S[self._tau_index]
        if not self._second:
            return whole
        reference = [self._reference[k] for k in self._second]
        expected = self._expected[_SHORT_TAU_INDEX]
        seen, weights, flicker = [], [], []
        white_share = 6.0 / 2 ** self._second[0]
        for k, likely_c2 in zip(self._second, reference, strict=True):
            length = self._lengths[k]
            seen.append(max(length.short_c2, _LEAST_C2) / likely_c2)
            flicker.append(expected[k])
            blocks = min(length.count, 2.0 * _MEMORY_S / (self._table_interval_s * 2**k))
            weights.append(blocks / (4.0 + _DOUBT * blocks) if length.count >= _FEWEST_BLOCKS else 0.0)
        _, white_c2, flicker_c2 = white_and_flicker(seen, weights, flicker, reference, white_share)
        # A probe's lag smooths the flame that arises before it; the longer of these blocks see through the smoothing.
        for at in (-1, -2):
            k = self._second[at]
            flicker_c2 = max(flicker_c2, (self._lengths[k].short_c2 - 6.0 * white_c2 / 2**k) / expected[k])
        flicker_c = math.sqrt(flicker_c2)
        if flicker_c >= _CLEARLY_LESS * self._flicker_c:
            return whole
        return math.sqrt(max(white_c2, _LEAST_C2)), flicker_c, _FLICKER_S[_SHORT_TAU_INDEX]

    def _spread_by(self, white_c: float, flicker_c: float, flicker_s: float) -> float:
        """By what factor means of a minute and more may scatter more than this law says.

        Flicker of several time constants is steeper at both ends than a law of one allows: it scatters more than its
        best fit in blocks of some 4 s and less in those of 16 and 32 s. What it does in the slow parts that no block
        shows goes with that.
        """
        if len(self._lengths) <= self._middle + 1:
            return 1.0
        expected = self._expected[_FLICKER_S.index(flicker_s)]

        def seen(k: int) -> float:
            likely_c2 = 6.0 * white_c * white_c * 0.5**k + flicker_c * flicker_c * expected[k]
            return max(self._lengths[k].slow_c2, _LEAST_C2) / likely_c2

        bent = 2.0 * seen(self._middle - 2) / (seen(self._middle) + seen(self._middle + 1))
        return min(max(1.0, bent / _BENT_BY_CHANCE), _MOST_SPREAD)

    def _rougher_by(self) -> float:
        """By what factor the readings of the last moments scatter more than usual, 1 if not beyond doubt."""
        excess = total = 0.0
        for k, blocks in zip(self._short, self._fast_blocks, strict=True):
            length = self._lengths[k]
            excess += blocks * (length.fast_c2 / max(length.slow_c2, _LEAST_C2) - 1.0)
            total += blocks
        if excess < _FAST_DEVIATIONS * 2.0 * math.sqrt(total):
            return 1.0
        return math.sqrt(1.0 + excess / total)

    def _learn_afresh(self, rougher: float) -> None:
        """Take the rougher flame as the one to be known: what was learnt counts for little, raised by its roughness."""
        self._rough_from_s = math.inf
        for length, slow_gain, _, _ in self._ladder.rungs:
            length.slow_c2 *= rougher * rougher
            length.short_c2 *= rougher * rougher
            length.count = min(length.count, max(2, round(_NEW_FLAME_S / (slow_gain * _MEMORY_S))))
        self._fit()

    def _publish(self) -> None:
        white_c, flicker_c, flicker_s = self._by_short_blocks()
        learnt_s = min(self._lengths[0].count * self._table_interval_s, 2.0 * _MEMORY_S)
        unknown = min(1.0 + _UNKNOWN * flicker_s / learnt_s, 2.0)
        self.noise = Noise(
            white_c=self._rougher * white_c,
            flicker_c=min(self._rougher * unknown * flicker_c, MOST_FLICKER_C),
            flicker_s=flicker_s,
            interval_s=self._interval_s,
            learnt_s=self._last_s - self._begun_s,
            spread=self._spread_by(white_c, flicker_c, flicker_s),
        )
