"""Buckets of five seconds behind the outlier gate: their mean, how single readings scattered, and what was rejected.

A rejected run that ends beside where it began is sparks or interference, and counts; one after which the reading stays
elsewhere was a true step that the gate followed, and does not: a run that moves one way is a step.
"""

import math

from msgspec import Struct

LENGTH_S = 5.0
"""s. A probe's lag is longer, a flame's flicker about as long."""
_RETURNED_C = 12.0
"""°C. So near the last believed reading (and the slew of a brisk climb) a run of rejected ones has come back."""
_LONGEST_GAP_S = 30.0
"""s. After a longer gap the second difference is drawn across nothing."""


class Slot(Struct, frozen=True, gc=False):
    """One bucket of readings.

    `time_s` is its middle, `temp_c` the mean there, of `count` believed readings; `held` were rejected by the gate and
    came back. `white_c2` is the variance of single readings from second differences, °C² (0 below three readings);
    `flat` says that all were equal.
    """

    time_s: float
    temp_c: float
    count: int
    held: int
    white_c2: float
    flat: bool


class SlotMeter:
    """Fills slots that begin at whole multiples of `LENGTH_S`; a slot without a believed reading is none."""

    __slots__ = (
        "_before_c",
        "_count",
        "_differences",
        "_end_s",
        "_first_c",
        "_flat",
        "_held",
        "_last_c",
        "_last_s",
        "_run",
        "_square_c2",
        "_temp_c",
        "_time_s",
    )

    def __init__(self) -> None:
        self._end_s = -math.inf
        self._count = self._held = self._run = self._differences = 0
        self._time_s = self._temp_c = self._first_c = self._square_c2 = 0.0
        self._last_s = self._last_c = self._before_c = math.nan
        self._flat = True

    def feed(self, time_s: float, temp_c: float, held: bool) -> Slot | None:
        """Take a reading (s, °C); gives the slot that it closed, whose time and mean lie at its readings' middle."""
        closed = None
        if time_s >= self._end_s:
            if self._count:
                closed = self._close()
            self._end_s = (time_s // LENGTH_S + 1.0) * LENGTH_S
        if held:
            self._run += 1
            return closed
        last_c = self._last_c
        if self._run:
            if abs(temp_c - last_c) < _RETURNED_C + 0.5 * (time_s - self._last_s):
                self._held += self._run
            self._run = 0
        if not self._count:
            self._first_c = temp_c
        elif temp_c != last_c:
            self._flat = False
        self._count += 1
        beside_c = temp_c - self._first_c
        self._temp_c += beside_c
        self._time_s += time_s
        bend_c = temp_c - 2.0 * last_c + self._before_c
        if not math.isnan(bend_c) and time_s - self._last_s < _LONGEST_GAP_S:
            self._differences += 1
            self._square_c2 += bend_c * bend_c
        self._before_c, self._last_c, self._last_s = last_c, temp_c, time_s
        return closed

    def restart(self) -> None:
        """Forget the slot in hand: what comes now does not go on from it."""
        self.__init__()  # type: ignore[misc]

    def _close(self) -> Slot:
        count = self._count
        white_c2 = self._square_c2 / (6.0 * self._differences) if self._differences else 0.0
        slot = Slot(self._time_s / count, self._first_c + self._temp_c / count, count, self._held, white_c2, self._flat)
        self._count = self._held = self._differences = 0
        self._time_s = self._temp_c = self._square_c2 = 0.0
        self._flat = True
        return slot
