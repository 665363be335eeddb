"""Readings that are none of the heat's: interference that the outlier gate rejects, and a converter that stands still.

Both are cumulative sums over buckets (E. S. Page, Biometrika 41, 100, 1954). Interference: more rejected readings that
came back than sparks make. Stillness: buckets all equal and equal to the one before, against how often that has been.
"""

import math

from rampwarden.core.explanation.slots import Slot
from rampwarden.core.explanation.statements import Figures

_SPARKS = 0.012
"""Share of readings that sparks throw off in a rough set-up."""
_DISTURBED = 0.15
"""Beside that share of sparks the sum grows from 5.5 % on: one bad reading in twenty is none of its business."""
_GAIN_HELD = math.log(_DISTURBED / _SPARKS)
_LOSS_READING = _DISTURBED - _SPARKS
_CAP = 14.0
_ALONE_S = 12.0
"""s. A single rejected reading so long after the one before is a spark, and no sign of a disturbed wire."""
_LONGEST_STILL_S = 360.0
"""s without a rejected reading, after which interference is over."""
_TELL = 8.0
_STILL_TELL = 12.0
_LEAST_STILL_S = 20.0
_FLAT_SEEN = 40.0
_FLAT_PRIOR = 0.05


class InterferenceSum:
    """Sums what rejected readings say. `since_s` is when the sum began to rise."""

    def __init__(self) -> None:
        self.log_odds = 0.0
        self.since_s = 0.0
        self.told = False
        self._last_s = -math.inf
        self._count = self._slots = 0

    def feed(self, slot: Slot) -> None:
        """Take a bucket; a burst of one bucket counts for two readings at most a second, or less."""
        held = min(slot.held, 12)
        if held == 1 and slot.time_s - self._last_s > _ALONE_S:
            self._last_s = slot.time_s
            held = 0
        if held:
            if self.log_odds <= 0.0:
                self.since_s, self._count, self._slots = slot.time_s, 0, 0
            self._slots += 1
            self._last_s = slot.time_s
            self._count += held
        total = self.log_odds + held * _GAIN_HELD - _LOSS_READING * min(slot.count, 50)
        self.log_odds = min(max(total, 0.0), _CAP)
        if self.log_odds > _TELL and self._count >= 6 and self._slots >= 3:
            self.told = True
        elif self.told and slot.time_s - self._last_s > _LONGEST_STILL_S:
            self.told = False

    @property
    def figures(self) -> Figures:
        """How many were rejected."""
        return Figures(count=self._count)


class StillnessSum:
    """Sums what buckets that do not move say. `since_s` is the first of them."""

    def __init__(self) -> None:
        self.log_odds = 0.0
        self.since_s = 0.0
        self.told = False
        self._last_c = math.nan
        self._flat_share = _FLAT_PRIOR
        self.run = 0

    def feed(self, slot: Slot) -> None:
        """Take a bucket as the meter gave it, not moved."""
        still = slot.flat and slot.temp_c == self._last_c
        if still:
            if not self.run:
                self.since_s = slot.time_s - 5.0
            self.run += 1
            self.log_odds -= math.log(self._flat_share)
            self.told = self.told or (self.log_odds > _STILL_TELL and slot.time_s - self.since_s >= _LEAST_STILL_S)
        else:
            # A stillness that has ended was chance, and is learnt from as such.
            self._flat_share += (min(self.run, 6) + _FLAT_PRIOR * 0.1 - self._flat_share * (self.run + 1)) / _FLAT_SEEN
            self._flat_share = min(max(self._flat_share, 0.004), 0.9)
            self.run, self.log_odds, self.told = 0, 0.0, False
        self._last_c = slot.temp_c

    @property
    def figures(self) -> Figures:
        """Where it stands."""
        return Figures(temp_c=self._last_c, lasted_s=5.0 * (self.run + 1))
