"""Dips that do not count: a lid opened for half a minute cools the probe, not the crucible.

What merely regains, within a short while, the temperature it had has not climbed. Both the climb budget and the ramp
forecast must leave such a dip out, and they must agree on what one is; so it is told here, and they only ask.

A dip begins when a reading falls well below the highest level of the last moments. It ends when the former level has
been regained and the last degrees had time to come in. What has not been regained within `longest_s`
was no dip but a fall, and what follows it is a climb. Nor is anything taken for a dip across a longer gap: nobody saw
what happened there, and what is low before it and high after it has climbed.

Only the way back to the former level is left out. What goes beyond it has climbed, but for what the crucible may have
climbed meanwhile at the pace it had (`expected_c`): a probe that comes back has that still to catch up with.
"""

import math

from rampwarden.core.model import Noise

_HEIGHTS = 8  # levels kept of the time in which a dip may end
_QUICK = 0.3  # weight of a new reading in the level: about three readings' average
_OPENING_DEVIATIONS = 6.0  # below the highest of several levels, which itself stands one or two above the mean
_TAIL = 1.5  # of the time it took to regain: for so long the last degrees still come in
_KNOWN = 0.125  # of `longest_s`: a longer gap hides a lid opened and closed, or a fall and a climb; own arithmetic
_KNOWN_INTERVALS = 4.0  # a slow board's pace is no gap
_NEAR = 0.1  # of the dip's depth, or one deviation of the noise: so near the former level it counts as regained


class DipWatch:
    """Tells whether the temperature is in a dip that may yet turn out not to count.

    `open` says so, too; `from_s` and `from_c` are when and where the temperature last stood high, and `regained` is
    whether it has been there again.
    """

    __slots__ = (
        "_began_s",
        "_floor_c",
        "_from_c_per_s",
        "_heights",
        "_high_s",
        "_last_s",
        "_level_c",
        "_longest_s",
        "_lowest_c",
        "_next_height_s",
        "_resume_s",
        "from_c",
        "from_s",
        "open",
        "regained",
    )

    def __init__(self, longest_s: float) -> None:
        self._longest_s = longest_s
        self.start()

    def start(self) -> None:
        """Forget what came before."""
        self.open = False
        self.regained = False
        self.from_s = 0.0
        self.from_c = 0.0
        self._from_c_per_s = 0.0
        self._began_s = self._high_s = 0.0
        self._lowest_c = 0.0
        self._resume_s = 0.0
        self._level_c = 0.0
        self._last_s = -math.inf
        self._forget_heights()

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> bool:
        """Add a believed temperature (°C) at `time_s` (s, rising); True while a dip is open."""
        step_s, self._last_s = time_s - self._last_s, time_s
        if self.open:
            return self._follow(time_s, temp_c, noise)
        if temp_c < self._floor_c:
            if step_s > self._longest_gap_s(noise):
                self._forget_heights()
                return False
            self.from_c, self.from_s = max(self._heights)
            # Up to now, not to when it stood highest: a ramp that had ended by then leads nowhere.
            first_c, first_s = self._heights[0]
            self._from_c_per_s = max(0.0, self.from_c - first_c) / (time_s - first_s)
            self._open_at(time_s, temp_c)
            return True
        if time_s >= self._next_height_s:
            self._note_height(time_s, temp_c, noise)
        else:
            self._level_c += _QUICK * (temp_c - self._level_c)
        return False

    def breaks_off(self, time_s: float, noise: Noise) -> bool:
        """End an open dip that was not regained before a gap, if the reading at `time_s` (s) comes after a longer one.

        To be asked before that reading is fed; gives whether it has ended so.
        """
        if not self.open or self.regained or time_s - self._last_s <= self._longest_gap_s(noise):
            return False
        self.open = False
        self._forget_heights()
        return True

    def expected_c(self, time_s: float, most_c_per_s: float) -> float:
        """Where the crucible stands (°C) that went on as before the dip, but by no more than so much, °C/s.

        It is known to go on for as long as a dip may last: for nothing longer.
        """
        return self.from_c + min(self._from_c_per_s, most_c_per_s) * min(
            max(0.0, time_s - self.from_s), self._longest_s
        )

    def _longest_gap_s(self, noise: Noise) -> float:
        return max(_KNOWN * self._longest_s, _KNOWN_INTERVALS * noise.interval_s)

    def _note_height(self, time_s: float, temp_c: float, noise: Noise) -> None:
        heights = self._heights
        self._level_c = self._level_c + _QUICK * (temp_c - self._level_c) if heights else temp_c
        heights.append((self._level_c, time_s))
        if len(heights) > _HEIGHTS:
            del heights[0]
        self._next_height_s = time_s + self._longest_s / _HEIGHTS
        self._floor_c = max(heights)[0] - _OPENING_DEVIATIONS * math.hypot(noise.white_c, noise.flicker_c)

    def _follow(self, time_s: float, temp_c: float, noise: Noise) -> bool:
        """Judge a reading inside a dip; gives whether the dip is still open."""
        if time_s >= self._resume_s:
            self.open = False
            self._forget_heights()
            return False
        spread_c = math.hypot(noise.white_c, noise.flicker_c)
        near_c = _NEAR * (self.from_c - self._lowest_c)
        below_c = self.from_c - temp_c
        if self.regained:
            if below_c > max(_OPENING_DEVIATIONS * spread_c, 2.0 * near_c):
                self.from_s = self._high_s  # the lid again
                self._open_at(time_s, temp_c)
            elif below_c <= near_c:
                self._high_s = time_s
        elif below_c <= max(spread_c, near_c):
            self.regained = True
            self._high_s = time_s
            self._resume_s = time_s + _TAIL * min(time_s - self._began_s, 0.5 * self._longest_s)
        else:
            self._lowest_c = min(self._lowest_c, temp_c)
        return True

    def _open_at(self, time_s: float, temp_c: float) -> None:
        self.open = True
        self.regained = False
        self._began_s = time_s
        self._lowest_c = temp_c
        self._resume_s = time_s + self._longest_s

    def _forget_heights(self) -> None:
        self._heights: list[tuple[float, float]] = []
        self._next_height_s = -math.inf
        self._floor_c = -math.inf
