"""Dates frames: from the board's own milliseconds and the host's arrival times to `time_s`. Also counts lost frames.

Reads no clock itself. The trouble it exists for: after a stall of 15 s a kernel hands over 15 s of lines within 0.3 s.
Dated by arrival, 15 s of heating would look like 0.3 s. The board's milliseconds give the true spacing; only their zero
has to be found, and ceramic resonators run up to 0.5 % off (common practice, no source), which over a heat is minutes.
"""

from enum import StrEnum

_WRAP_MS = 2**32
_WRAP_SEQ = 2**16

# A frame that seems to step forward across the end of the 32-bit count by more than this has not wrapped: the board
# started again. Only a restart within the last hour of 49.7 days would be taken for a wrap.
_LONGEST_STEP_OVER_WRAP_MS = 3_600_000

# How fast a late offset follows, in seconds per second of the board's clock: twice the worst resonator, and little
# enough that a burst after a stall keeps its spacing to 1 %.
_LEAK = 0.01

# A board whose count stands still while its lines come has no clock: so much later the host's own is taken.
_STANDS_STILL_S = 1.0


class Dating(StrEnum):
    """Which clock dates a frame.

    STEERED: the board's spacing, kept in step with the host. BOARD: the board alone, for a rehearsal, where the two
    share one clock. ARRIVAL: the host alone.
    """

    STEERED = "steered"
    BOARD = "board"
    ARRIVAL = "arrival"


class BoardClock:
    """Gives each frame a time that never decreases, and notices when the board started again.

    After `date`, `restarted` says whether that frame's milliseconds had jumped back.
    """

    def __init__(self, dating: Dating) -> None:
        self.restarted = False
        self._dating = dating
        self._last_ms: int | None = None
        self._count_ms = 0
        self._offset_s = 0.0
        self._last_s = float("-inf")

    def date(self, board_ms: int | None, arrived_s: float) -> float:
        """Give the `time_s` of a frame, s, rounded to the millisecond and never below the one before.

        `board_ms` is the board's 32-bit millisecond count, None where the board sends none: such a frame is dated by
        its arrival whatever the dating. `arrived_s` is when the host received it, s on the clock of the heat.
        """
        self.restarted = False
        time_s = arrived_s if board_ms is None else self._dated(board_ms, arrived_s)
        self._last_s = max(self._last_s, round(time_s, 3))
        return self._last_s

    def _dated(self, board_ms: int, arrived_s: float) -> float:
        stepped_ms = self._step_ms(board_ms)
        self._last_ms = board_ms
        if stepped_ms is None:
            self._count_ms = board_ms
            self._anchor(arrived_s)
        else:
            self._count_ms += stepped_ms
            if self._dating is Dating.STEERED:
                self._steer(arrived_s, stepped_ms / 1000.0)
        return arrived_s if self._dating is Dating.ARRIVAL else self._offset_s + self._count_ms / 1000.0

    def _step_ms(self, board_ms: int) -> int | None:
        """Give the milliseconds since the last frame; None for a first frame, before or after a restart."""
        if self._last_ms is None:
            return None
        stepped_ms = board_ms - self._last_ms
        if stepped_ms >= 0:
            return stepped_ms
        wrapped_ms = stepped_ms + _WRAP_MS
        if wrapped_ms <= _LONGEST_STEP_OVER_WRAP_MS:
            return wrapped_ms
        self.restarted = True
        return None

    def _anchor(self, arrived_s: float) -> None:
        """Set the offset afresh: a board that just started is taken to be on time."""
        if self._dating is Dating.BOARD and not self.restarted:
            return  # one clock serves both sides: its zero is the heat's
        self._offset_s = max(arrived_s, self._last_s) - self._count_ms / 1000.0

    def _steer(self, arrived_s: float, stepped_s: float) -> None:
        """Move the offset towards the host's clock.

        A frame cannot arrive before it was sent: an early one proves the offset too late, and the offset snaps to it. A
        late one may be a slow line as well as a slow board, so the offset follows it only slowly. Where the board's
        count stands still it follows at once: else no time would pass for the watch while lines come.
        """
        late_s = arrived_s - (self._offset_s + self._count_ms / 1000.0)
        if stepped_s == 0.0 and late_s > _STANDS_STILL_S:
            self._offset_s += late_s
            return
        self._offset_s += late_s if late_s < 0 else min(late_s, _LEAK * stepped_s)


class SequenceCounter:
    """Counts the frames missing between those that came, by their number from 0 to 65535."""

    def __init__(self) -> None:
        self._last: int | None = None

    def lost(self, seq: int) -> int:
        """Give how many frames are missing before `seq`. A number that stands still or goes back loses none."""
        gap = 0 if self._last is None else (seq - self._last - 1) % _WRAP_SEQ
        self._last = seq
        return gap if gap < _WRAP_SEQ // 2 else 0

    def restart(self) -> None:
        """Forget the last number: the board started again and counts from zero."""
        self._last = None
