"""How another probe parts from the followed one: what was learnt of both while both were good.

Both are averaged over half a minute. What the pot's probe shows is guessed from the chamber's by a law of how it comes
after it (`following`), and an offset; a chamber's from its pot's by an offset alone, since nobody can undo a lag. Every
law is tried on what was learnt, and those that explain it nearly as well as the best are all kept, each by how well it
does: a ramp that has gone on steadily tells nothing of the lag, and what comes after its end is as uncertain as they
disagree.

How the guess wanders is the structure function of what is left over: D²(h), the mean square of its changes over h
seconds (Rutman, Characterization of phase and frequency instabilities in precision frequency sources, Proc. IEEE 66
(1978) 1048). So its uncertainty grows with the time since both were last good, and where too little was seen in
proportion to that time.
"""

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

from rampwarden.core.standing_in.following import Laws, Numbers

_BUCKET_S = 30.0
_MOST_BUCKETS = 480
"""Four hours: an offset of longer ago says little of the next minutes."""
_FEWEST_BUCKETS = 10
"""Five minutes of both, or nothing is known of how they part."""
_LONGEST_GAP_S = 300.0
"""Without the other probe for longer, nobody knows what its lag has come to."""
_ANCHOR_BUCKETS = 2
"""The offset is that of the last minute."""
_HORIZONS = (1, 2, 4, 8, 16, 32, 64, 128)
"""In buckets."""
_MEMORY = 60.0
"""Buckets after which what was seen counts for a third: the coming minutes are like the last ones."""
_LEAST_C = 0.3
"""°C. Differences smaller than this settle nothing between laws."""
_WORSE = 2.0
"""A law whose wander is larger than the best one's by this, in its mean logarithm, is left out."""
_SHARPNESS = 2.0
"""A law counts for e to the power of minus this by how much worse it explains. Tuned on both simulators' tuning heats,
with the shares in `stand_in`: the least width that holds 19 of 20 in each."""
_FEW = 0.7
"""A wander seen over n times its horizon is raised by the factor 1 + this / √n."""
_MOST_LAWS = 20
_BEYOND = 0.75
"""Beyond the longest horizon a wander grows with this power of the time: between chance's half and a drift's one."""


@dataclass(frozen=True, slots=True)
class Wander:
    """How far the guess wanders, °C rms, over times `horizon_s` (s, rising, from 0 on)."""

    horizon_s: tuple[float, ...]
    rms_c: tuple[float, ...]

    def at(self, age_s: float) -> float:
        """Give the wander over `age_s` (s), °C; beyond what was seen it grows with its power `_BEYOND`."""
        horizons, wander = self.horizon_s, self.rms_c
        if age_s >= horizons[-1]:
            return wander[-1] * math.pow(age_s / horizons[-1], _BEYOND)
        place = next(number for number, horizon_s in enumerate(horizons) if horizon_s > age_s)
        share = (age_s - horizons[place - 1]) / (horizons[place] - horizons[place - 1])
        return wander[place - 1] + share * (wander[place] - wander[place - 1])


@dataclass(frozen=True, slots=True)
class LearntParting:
    """What was learnt until `learnt_s` (s), for `learnt_for_s` in all: the laws that explain it, the best first.

    `weight` is what each counts for (shape (n,), the best 1).

    `level_c` is what each has come to (°C, shape (n,)) when the other probe read `other_c` (°C) at `at_s` (s), and
    `offset_c` what is to be added (°C, shape (n,)). `wander` is that of the best.
    """

    learnt_s: float
    learnt_for_s: float
    laws: Laws
    weight: Numbers
    level_c: Numbers
    offset_c: Numbers
    wander: Wander
    at_s: float
    other_c: float


class PartingMeter:
    """Learns from the readings of the followed probe and of one other, each in the order of its times.

    `laws` are those by which the followed probe may come after the other.
    """

    def __init__(self, laws: Laws) -> None:
        self._laws = laws
        self._buckets: deque[tuple[float, float, float | None]] = deque(maxlen=_MOST_BUCKETS)
        self._clear()

    def restart(self) -> None:
        """Forget everything: the probes are in another vessel now."""
        self._buckets.clear()
        self._clear()

    def feed(self, time_s: float, own_c: float) -> None:
        """Take a believed reading (s, °C) of the followed probe."""
        if time_s >= self._ends_s:
            self._close(time_s)
        self._own_c += own_c
        self._owns += 1

    def feed_other(self, time_s: float, other_c: float) -> None:
        """Take a believed reading (s, °C) of the other."""
        if time_s >= self._ends_s:
            self._close(time_s)
        self._other_c += other_c
        self._other_s += time_s
        self._others += 1

    def learnt(self, until_s: float) -> LearntParting | None:
        """Give what was learnt until `until_s` (s), when the followed probe was believed last; None if too little."""
        kept = list(self._buckets)
        while kept and kept[0][2] is None:
            del kept[0]
        own_c = np.array(
            [math.nan if own_c is None or at_s + 0.5 * _BUCKET_S > until_s else own_c for at_s, _, own_c in kept]
        )
        both = np.flatnonzero(~np.isnan(own_c))
        if len(both) < _FEWEST_BUCKETS:
            return None
        levels = _levels(kept, self._laws)
        left = own_c[:, None] - levels
        misfit = _misfit(left)
        order = np.argsort(misfit, kind="stable")
        places = [int(each) for each in order[:_MOST_LAWS] if misfit[each] <= misfit[order[0]] + _WORSE]
        return LearntParting(
            learnt_s=kept[both[-1]][0],
            learnt_for_s=len(both) * _BUCKET_S,
            laws=self._laws.picked(places),
            weight=np.exp(_SHARPNESS * (misfit[places[0]] - misfit[places])),
            level_c=levels[-1, places],
            offset_c=left[both[-_ANCHOR_BUCKETS:]][:, places].mean(axis=0),
            wander=_wander(left[:, places[0]]),
            at_s=kept[-1][0],
            other_c=kept[-1][1],
        )

    def _clear(self) -> None:
        self._ends_s = -math.inf
        self._own_c = self._other_c = self._other_s = 0.0
        self._owns = self._others = 0

    def _close(self, time_s: float) -> None:
        """Keep the half minute that is over."""
        if self._others:
            at_s = self._other_s / self._others
            if self._buckets and at_s - self._buckets[-1][0] > _LONGEST_GAP_S:
                self._buckets.clear()
            self._buckets.append((at_s, self._other_c / self._others, self._own_c / self._owns if self._owns else None))
        self._clear()
        self._ends_s = _BUCKET_S * (math.floor(time_s / _BUCKET_S) + 1.0)


def _levels(kept: list[tuple[float, float, float | None]], laws: Laws) -> Numbers:
    """Give what every law has come to at each half minute, °C, shape (buckets, laws)."""
    at_s, other_c, own_c = kept[0]
    # What comes after stands where the followed probe does when both are first seen.
    level_c = np.full(len(laws.follows_s), other_c if own_c is None else own_c)
    levels = np.empty((len(kept), len(level_c)))
    for place, (next_s, next_c, _) in enumerate(kept):
        if next_s > at_s:
            level_c = laws.follow(level_c, next_s - at_s, other_c, next_c)
        levels[place] = level_c
        at_s, other_c = next_s, next_c
    return levels


def _changes(left: Numbers, apart: int) -> tuple[Numbers, Numbers]:
    """Give the squared changes over `apart` buckets, and what each counts for."""
    squares = (left[apart:] - left[:-apart]) ** 2
    weight = np.exp((np.arange(len(squares)) - len(squares)) / _MEMORY)
    seen = ~np.isnan(squares if squares.ndim == 1 else squares[:, 0])
    return squares[seen], weight[seen]


def _misfit(left: Numbers) -> Numbers:
    """Give the mean logarithm of every law's wander, shape (laws,)."""
    total, count = np.zeros(left.shape[1]), 0
    for apart in _HORIZONS:
        squares, weight = _changes(left, apart)
        if len(squares) < max(4, apart // 2):
            break
        total += 0.5 * np.log(weight @ squares / weight.sum() + _LEAST_C * _LEAST_C)
        count += 1
    return total / count


def _wander(left: Numbers) -> Wander:
    horizons, rms = [0.0], [0.0]
    for apart in _HORIZONS:
        squares, weight = _changes(left, apart)
        if len(squares) < max(4, apart // 2):
            break
        mean = float(weight @ squares / weight.sum())
        raised = math.sqrt(mean) * (1.0 + _FEW / math.sqrt(max(1.0, len(squares) / apart)))
        horizons.append(apart * _BUCKET_S)
        rms.append(max(raised, rms[-1]))
    rms[0] = rms[1]
    return Wander(tuple(horizons), tuple(rms))
