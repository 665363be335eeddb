"""A pot's arrival in the furnace, and a dip regained: what of the reading's rise is the probe's, and what the pot's.

The rise is fitted as a line (the pot) and something that dies away (the probe that warms up, or is put back): the ramp
alarm may be withheld only while the line lies within the limit, and for a minute and a half at most.
"""

import math

from rampwarden.core.explanation.slots import Slot
from rampwarden.core.quantities import Rate

LONGEST_S = 90.0


class ArrivalFit:
    """Fits the rise since an arrival or a return."""

    def __init__(self) -> None:
        self._began_s = -math.inf
        self._limit: Rate | None = None

    def begin(self, time_s: float, limit: Rate | None) -> None:
        """An arrival begins."""
        self._began_s, self._limit = time_s, limit

    def feed(self, slot: Slot) -> None:
        """Take a bucket."""

    def withholds(self, time_s: float) -> bool:
        """Whether the line lies within the limit."""
        return False
