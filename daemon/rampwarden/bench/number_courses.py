"""What a number that comes line after line is, by its course: a clock, a counter."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# A board's clock against the arrivals of lines that come in bursts.
_MS_PER_S = (850.0, 1150.0)


def is_clock(arrived_s: FloatArray, values: FloatArray, *, whole: bool) -> bool:
    """Tell whether `values`, a number a line, count milliseconds; the lines came at `arrived_s`, s."""
    span_s = float(arrived_s[-1] - arrived_s[0])
    if not whole or span_s <= 0.0 or np.any(np.diff(values) < 0):
        return False
    return _MS_PER_S[0] <= float(values[-1] - values[0]) / span_s <= _MS_PER_S[1]


def counts_up(values: FloatArray) -> bool:
    """Tell whether `values` count lines."""
    steps = np.diff(values)
    return bool(np.mean(steps == 1.0) > 0.8)
