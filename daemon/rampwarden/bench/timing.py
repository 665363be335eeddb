"""How a board keeps time: its rate, the jitter of its own clock and of ours, what got lost, how far the clocks differ.

Lines arrive late, never early. So the two clocks are compared by the most prompt arrivals at the beginning and at the
end, and lateness is what is left: that of cable, hub and this computer.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rampwarden.core.instrument import BoardClock, Dating, Frame, SequenceCounter

FloatArray = NDArray[np.float64]

# With fewer lines neither rate nor jitter means anything.
FEWEST = 5


@dataclass(frozen=True, slots=True)
class Timing:
    """Times of a board's frames, s.

    `time_s` dates each frame: by the board's milliseconds where it sends them, else by arrival. `interval_s` is the
    usual spacing, `board_jitter_s` the scatter of the board's own spacing about it, `late_s` the scatter of arrivals
    about the board's clock (without one: about even spacing). `clock_off` is by how much the board's clock runs fast,
    as a share, give or take `clock_off_by`; both None without a board clock.
    """

    time_s: FloatArray
    interval_s: float
    board_jitter_s: float | None
    late_s: float
    clock_off: float | None
    clock_off_by: float | None
    lost: int
    restarts: int


def judge_times(frames: Sequence[Frame], arrived_s: Sequence[float], *, one_clock: bool = False) -> Timing | None:
    """Work out how the board keeps time; None from fewer than five frames.

    With `one_clock` both are the same, and there is nothing to compare.
    """
    if len(frames) < FEWEST:
        return None
    arrived = np.array(arrived_s)
    lost, restarts, board = _board_times(frames)
    if board is None:
        interval_s = float(arrived[-1] - arrived[0]) / (len(frames) - 1)
        even = arrived[0] + interval_s * np.arange(len(frames))
        return Timing(arrived, interval_s, None, float(np.std(arrived - even)), None, None, lost, restarts)
    spacing_s = np.diff(board)
    interval_s = float(np.median(spacing_s))
    # A gap where frames got lost is no jitter of the clock.
    usual = spacing_s[spacing_s < 1.5 * interval_s]
    jitter_s = float(np.std(usual)) if usual.size else 0.0
    late = arrived - board
    late_s = float(np.std(late - np.polynomial.Polynomial.fit(board, late, 1)(board))) if np.ptp(board) > 0 else 0.0
    clock_off, clock_off_by = (None, None) if one_clock else _clock_off(board, late, late_s)
    return Timing(board, interval_s, jitter_s, late_s, clock_off, clock_off_by, lost, restarts)


def _board_times(frames: Sequence[Frame]) -> tuple[int, int, FloatArray | None]:
    """Give how many frames are missing, how often the board restarted, and when each was made, s, wraps undone."""
    clock, counter = BoardClock(Dating.BOARD), SequenceCounter()
    lost = restarts = 0
    times: list[float] = []
    for frame in frames:
        if frame.board_ms is not None:
            times.append(clock.date(frame.board_ms, times[-1] if times else 0.0))
            if clock.restarted:
                counter.restart()
                restarts += 1
        if frame.seq is not None:
            lost += counter.lost(frame.seq)
    return lost, restarts, np.array(times) if len(times) == len(frames) else None


def _clock_off(board: FloatArray, late: FloatArray, late_s: float) -> tuple[float | None, float | None]:
    """Compare the clocks by the most prompt arrivals of the first and the last third.

    The uncertainty is what either of them may still be late by: a millisecond of serial line, or the scatter seen.
    """
    third = len(board) // 3
    span_s = float(board[-1] - board[0])
    if third < 2 or span_s <= 0.0:
        return None, None
    first, last = int(np.argmin(late[:third])), len(board) - third + int(np.argmin(late[-third:]))
    apart_s = float(board[last] - board[first])
    if apart_s <= 0.0:
        return None, None
    off = -float(late[last] - late[first]) / apart_s
    return off, (0.001 + late_s) / apart_s
