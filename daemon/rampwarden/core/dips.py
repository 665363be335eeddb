"""Dips that do not count: a lid opened for half a minute cools the probe, not the crucible.

What merely regains, within a short while, the temperature it had has not climbed. Both the climb budget and the ramp
forecast must leave such a dip out, and they must agree on what one is; so it is told here, and they only ask.

A dip begins when a reading falls well below the highest level of the last moments. It ends when the former level has
been regained and as long again has passed (the last degrees come slowly), and in any case after `longest_s`: a fall
that lasts longer is real, and what follows it is a climb.
"""

import math

from rampwarden.core.model import Noise

_HEIGHTS = 8  # levels kept of the time in which a dip may end
_QUICK = 0.3  # weight of a new reading in the level: about three readings' average
_OPENING_DEVIATIONS = 6.0  # below the highest of several levels, which itself stands one or two above the mean
_NEAR = 0.1  # of the dip's depth, or one deviation of the noise: so near the former level it counts as regained


class DipWatch:
    """Tells whether the temperature is in a dip that may yet turn out not to count."""

    __slots__ = (
        "_floor_c",
        "_fresh",
        "_heights",
        "_level_c",
        "_longest_s",
        "_lowest_c",
        "_next_height_s",
        "_resume_s",
        "began_s",
        "from_c",
        "open",
        "regained",
    )

    def __init__(self, longest_s: float) -> None:
        self._longest_s = longest_s
        self.start()

    def start(self) -> None:
        """Forget what came before."""
        self.open = False
        self.began_s = 0.0
        self.from_c = 0.0
        self.regained = False
        self._lowest_c = 0.0
        self._resume_s = 0.0
        self._level_c = 0.0
        self._fresh = True
        self._heights: list[float] = []
        self._next_height_s = -math.inf
        self._floor_c = -math.inf

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> bool:
        """Add a believed temperature (°C) at `time_s` (s, rising); True while a dip is open."""
        if self.open:
            return self._follow(time_s, temp_c, noise)
        if temp_c < self._floor_c:
            self.open = True
            self.began_s = time_s
            self.from_c = max(self._heights)
            self._lowest_c = temp_c
            self.regained = False
            self._resume_s = time_s + self._longest_s
            return self._longest_s > 0.0
        if self._fresh:
            self._fresh = False
            self._level_c = temp_c
        else:
            self._level_c += _QUICK * (temp_c - self._level_c)
        if time_s >= self._next_height_s:
            self._next_height_s = time_s + self._longest_s / _HEIGHTS
            self._heights.append(self._level_c)
            if len(self._heights) > _HEIGHTS:
                del self._heights[0]
            self._floor_c = max(self._heights) - _OPENING_DEVIATIONS * math.hypot(noise.white_c, noise.flicker_c)
        return False

    def _follow(self, time_s: float, temp_c: float, noise: Noise) -> bool:
        if time_s < self._resume_s:
            self._lowest_c = min(self._lowest_c, temp_c)
            near_c = max(math.hypot(noise.white_c, noise.flicker_c), _NEAR * (self.from_c - self._lowest_c))
            if temp_c >= self.from_c - near_c:
                # Regained; as long again for the slow last degrees, counted from the first such reading.
                self.regained = True
                self._resume_s = min(self._resume_s, time_s + (time_s - self.began_s))
            if time_s < self._resume_s:
                return True
        self.open = False
        self._fresh = True
        self._heights = []
        self._next_height_s = time_s
        self._floor_c = -math.inf
        return False
