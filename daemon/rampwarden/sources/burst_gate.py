"""What to believe of lines that carry no board clock and come in a heap.

Theory of operation. Such a line can only be dated by its arrival. In the usual flow that is right. After a stall the
kernel hands over what piled up, and fifteen seconds of heating arrive within 0.3 s: dated by arrival they would read as
a ramp fifty times too steep. Their spacing is lost for good, and of the whole heap only the last line is fresh. But no
line says of itself that it is the last. So a line that comes alone and in its turn passes at once; any other is held
until the line has been quiet for QUIET_SHARE of the usual interval, and whatever comes before that takes its place.

Rule: a reading that is missing is harmless, a reading with a wrong time is a false ramp.
"""

from rampwarden.core.instrument import Frame

# Lines of a heap follow each other within milliseconds, lines in their turn within an interval give or take a tenth.
QUIET_SHARE = 0.25

# A line that comes later than this after the one before may be the first of a heap.
LATE_SHARE = 1.5

# A board much faster than its stated interval would be held for ever; it is let through once in this time, or once in
# an interval if that is longer.
LONGEST_HOLD_S = 1.0


class BurstGate:
    """Passes frames on with their arrival time, s; `dropped` counts those left out since the start."""

    def __init__(self, interval_s: float) -> None:
        self.dropped = 0
        self._quiet_s = QUIET_SHARE * interval_s
        self._late_s = LATE_SHARE * interval_s
        self._longest_hold_s = max(interval_s, LONGEST_HOLD_S)
        self._arrived_s: float | None = None
        self._held: Frame | None = None
        self._held_since_s = 0.0

    @property
    def is_holding(self) -> bool:
        """Whether a frame waits for the line to fall quiet."""
        return self._held is not None

    def take(self, frames: list[Frame], arrived_s: float) -> list[tuple[Frame, float]]:
        """Take the frames that one read completed (one or more) and give those that may be believed."""
        passed = self.release(arrived_s)
        in_turn = (
            len(frames) == 1
            and self._arrived_s is not None
            and self._quiet_s <= arrived_s - self._arrived_s <= self._late_s
        )
        self._arrived_s = arrived_s
        if in_turn:
            passed.append((frames[0], arrived_s))
            return passed
        self.dropped += len(frames) - 1
        if self._held is None:
            self._held_since_s = arrived_s
        else:
            self.dropped += 1
        self._held = frames[-1]
        return passed

    def release(self, now_s: float) -> list[tuple[Frame, float]]:
        """Give the held frame if nothing followed it for long enough."""
        if self._held is None or self._arrived_s is None:
            return []
        is_quiet = now_s - self._arrived_s >= self._quiet_s
        if not is_quiet and now_s - self._held_since_s < self._longest_hold_s:
            return []
        held, self._held = self._held, None
        return [(held, self._arrived_s)]
