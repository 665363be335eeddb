"""What the pot's probe and the chamber's settle together: this probe moved, they part, the pot lags, out of its seat.

Knows no schedule, no alarm desk and no other room of the core.
"""

from rampwarden.core.two_probes.pairs import Pair
from rampwarden.core.two_probes.settled import Between, Settled
from rampwarden.core.two_probes.two_probe_alarms import PROBE_UNSEATED, PROBES_DISAGREE, TWO_PROBE_ALARMS
from rampwarden.core.two_probes.two_probes import TwoProbes

__all__ = ["PROBES_DISAGREE", "PROBE_UNSEATED", "TWO_PROBE_ALARMS", "Between", "Pair", "Settled", "TwoProbes"]
