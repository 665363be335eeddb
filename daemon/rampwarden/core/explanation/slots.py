"""Buckets of five seconds behind the outlier gate: the trimmed mean at the bucket's middle, and how it scattered."""

from msgspec import Struct

LENGTH_S = 5.0
"""s. A probe's lag is longer, a flame's flicker about as long."""


class Slot(Struct, frozen=True, gc=False):
    """One bucket of readings.

    `time_s` is its middle, `temp_c` the mean there, of `count` believed readings; `held` were rejected by the gate.
    `white_c2` is the variance of single readings from second differences, °C²; `flat` that all were equal.
    """

    time_s: float
    temp_c: float
    count: int
    held: int
    white_c2: float
    flat: bool
