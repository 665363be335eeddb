"""The course's running integral on an even grid: from it the mean over any span of the past costs two look-ups.

Between readings the course is a straight line, so a line's means are exact at any pace. What was not read (a gap, a
dip that is replaced) is a line as well, and is counted, so that whoever takes a mean can tell what it rests on. Knows
nothing of noise or limits.
"""

import math

_BLIND_INTERVALS = 4.0
"""A step of so many usual intervals is a gap."""


class CourseIntegral:
    """Keeps the integral at every `cell_s` seconds, for at least `kept` cells back.

    `sums` (°C s above the first temperature) and `blinds` (s in which nothing was read) run since the start, newest
    last; the last one stands at `at_s`. To look at, not to change.
    """

    __slots__ = (
        "_blind",
        "_blind_above_s",
        "_from_c",
        "_kept",
        "_last_c",
        "_last_s",
        "_next_s",
        "_sum",
        "blinds",
        "cell_s",
        "sums",
    )

    def __init__(self, cell_s: float, kept: int) -> None:
        self.cell_s = cell_s
        self._kept = kept
        self._blind_above_s = math.inf
        self.start(0.0, 0.0)

    def start(self, time_s: float, temp_c: float) -> None:
        """Forget what came before and begin at a temperature."""
        self._from_c = temp_c
        self._last_s = time_s
        self._last_c = 0.0
        self._sum = 0.0
        self._blind = 0.0
        self._next_s = time_s + self.cell_s
        self.sums = [0.0]
        self.blinds = [0.0]

    def set_pace(self, interval_s: float) -> None:
        """Take note of the usual interval between readings, s: a much longer step is a gap."""
        self._blind_above_s = max(_BLIND_INTERVALS * interval_s, 2.0 * self.cell_s)

    def feed(self, time_s: float, temp_c: float) -> bool:
        """Lead the course on to a temperature (°C) at `time_s` (s, rising); tells whether a point was passed."""
        step_s = time_s - self._last_s
        rise_c = temp_c - self._from_c
        if time_s >= self._next_s or step_s <= 0.0:
            return self._lead(time_s, rise_c, step_s > self._blind_above_s)
        # Between two points, as nearly every reading: a gap is longer than what lies between them.
        self._sum += 0.5 * step_s * (self._last_c + rise_c)
        self._last_s = time_s
        self._last_c = rise_c
        return False

    def bridge(self, from_s: float, time_s: float, temp_c: float) -> None:
        """Replace the course since `from_s` (s) by a line up to a temperature (°C) now, and take it for unread."""
        cell_s = self.cell_s
        at_s = self._next_s - cell_s
        back = min(len(self.sums) - 1, max(0, math.ceil((at_s - from_s) / cell_s)))
        if back:
            del self.sums[-back:], self.blinds[-back:]
            at_s -= back * cell_s
        self._sum, self._blind = self.sums[-1], self.blinds[-1]
        if len(self.sums) > 2:  # the level there, as the grid itself has it
            self._last_c = (1.5 * (self.sums[-1] - self.sums[-2]) - 0.5 * (self.sums[-2] - self.sums[-3])) / cell_s
        self._next_s = at_s + cell_s
        self._last_s = at_s
        self._lead(time_s, temp_c - self._from_c, True)

    @property
    def all_read(self) -> bool:
        """Whether all that is kept was read: then no span needs to be asked."""
        return self.blinds[-1] == self.blinds[0]

    def unread_s(self, back: int, cells: int) -> float:
        """Give how much of the span of so many cells, that ends so many cells ago, is a line over nothing read, s."""
        return self.blinds[-1 - back] - self.blinds[-1 - back - cells]

    def _lead(self, time_s: float, rise_c: float, blind: bool) -> bool:
        """Integrate a straight step, and keep the integral where it passes the grid."""
        step_s = time_s - self._last_s
        if step_s <= 0.0:
            return False
        if step_s > self._kept * self.cell_s:
            # Whatever is remembered lies in a time that nobody saw; point by point it could be years, too.
            self.start(time_s, self._from_c + rise_c)
            return False
        before_c = self._last_c
        passed = time_s >= self._next_s
        if passed:
            slope = (rise_c - before_c) / step_s
            sums, blinds, last_s, next_s = self.sums, self.blinds, self._last_s, self._next_s
            while time_s >= next_s:
                part_s = next_s - last_s
                sums.append(self._sum + part_s * (before_c + 0.5 * slope * part_s))
                blinds.append(self._blind + (part_s if blind else 0.0))
                next_s += self.cell_s
            self._next_s = next_s
            if len(sums) > 2 * self._kept:
                del self.sums[: -self._kept - 1], self.blinds[: -self._kept - 1]
        self._sum += 0.5 * step_s * (before_c + rise_c)
        if blind:
            self._blind += step_s
        self._last_s = time_s
        self._last_c = rise_c
        return passed
