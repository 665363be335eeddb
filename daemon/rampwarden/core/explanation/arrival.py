"""A pot's arrival in the furnace, and a dip regained: what of the reading's rise is the probe's, and what the pot's.

The rise is fitted as a line (the pot) and something that dies away (a probe that is put back and warms up, within its
lag or as its contact grows): while the line lies within the limit, the pot itself is vouched for. A straight rise
leaves nothing to die away, so a pot that truly climbs too fast is not vouched for.
"""

import math
from collections import deque

from rampwarden.core.explanation.slots import LENGTH_S, Slot
from rampwarden.core.explanation.step_fit import fit_dying_away
from rampwarden.core.quantities import Rate

_WINDOWS_S = (5.0, 8.0, 12.0, 17.0, 25.0, 36.0, 52.0)
_SPAN = 24
"""Buckets under the fit: two minutes."""
_LEAST = 5
_ARRIVAL_S = 420.0
"""s after an arrival: the longest window of a brisk limit still holds the probe's rise, and the alarm's patience."""
_RETURN_S = 180.0
_YOUNG_S = 40.0
"""s. In the first moments of a rise there is no telling yet, and no pot breaks a limit of minutes by itself so soon."""
_RISE_C = 8.0
"""°C that must be the probe's before anything is explained by it."""


class ProbeRise:
    """Follows a rise since an arrival or a return; `c_per_s` is the pot's own part of it, None while not known."""

    def __init__(self) -> None:
        self._slots: deque[Slot] = deque(maxlen=_SPAN)
        self._until_s = -math.inf
        self._limit: Rate | None = None
        self._risen_c = self._rises_s = 0.0
        self._too_fast = 0
        self._first_c: float | None = None
        self.c_per_s: float | None = None

    def arrive(self, time_s: float, limit: Rate | None) -> None:
        """A pot arrives at `time_s`, or may from now on; `limit` is what it may climb by."""
        self._begin(time_s + _ARRIVAL_S, limit)

    def regain(self, time_s: float, limit: Rate | None, recent: list[Slot]) -> None:
        """A dip is being regained since the first of the `recent` buckets."""
        self._begin(time_s + _RETURN_S, limit)
        for slot in recent:
            self.feed(slot)

    def _begin(self, until_s: float, limit: Rate | None) -> None:
        self._slots.clear()
        self._until_s, self._limit = until_s, limit
        self._risen_c, self._first_c, self.c_per_s = 0.0, None, None
        self._too_fast = 0

    def feed(self, slot: Slot) -> None:
        """Take a bucket; beyond the time of an arrival nothing is done."""
        if slot.time_s > self._until_s or self._limit is None:
            return
        slots = self._slots
        slots.append(slot)
        lowest_c = slot.temp_c if self._first_c is None else min(self._first_c, slot.temp_c)
        if self._first_c is None or lowest_c < self._first_c:
            self._rises_s = slot.time_s
        self._first_c = lowest_c
        self._risen_c = max(self._risen_c, slot.temp_c - lowest_c)
        if self._risen_c < 0.5 * _RISE_C:
            # It has not begun to rise: what lies before says nothing of how the rise dies away.
            while len(slots) > 2:
                slots.popleft()
            self._rises_s = slots[0].time_s
        if len(slots) < _LEAST:
            return
        end_s, base_c = slots[-1].time_s, slots[-1].temp_c
        times_s = [one.time_s - end_s for one in slots]
        offs_c = [one.temp_c - base_c for one in slots]
        best = math.inf
        for dies_s in _WINDOWS_S:
            slope, died_c, squares = fit_dying_away(times_s, offs_c, dies_s)
            if squares < best and died_c <= 0.0:
                best, self.c_per_s = squares, slope
        if math.isinf(best):
            # It does not slow down: a line, or worse.
            self.c_per_s = fit_dying_away(times_s, offs_c, math.inf)[0]
        too_fast = self.c_per_s is not None and self.c_per_s > self._limit.c_per_s
        self._too_fast = self._too_fast + 1 if too_fast else 0

    def vouches(self, time_s: float) -> bool:
        """Whether the pot's own part is within the limit, and the probe has indeed risen."""
        limit = self._limit
        if limit is None or time_s > self._until_s + LENGTH_S or self._risen_c < _RISE_C:
            return False
        is_young = time_s - self._rises_s < _YOUNG_S and limit.window_s >= 2.0 * _YOUNG_S
        return is_young or self._too_fast < 2
