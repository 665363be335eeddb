"""The chamber is hot and the pot's probe is not: it hangs out of its seat, or was never in it.

No pot is so slow: the slowest, full of metal, follows its chamber within 50 minutes when cold, and sooner at red
heat (own arithmetic: 40 kg in still air). What stays far behind for minutes and does not climb touches no pot.
"""

from collections import deque

from rampwarden.core.two_probes.pairs import Pair
from rampwarden.core.two_probes.pot_law import drives_k
from rampwarden.core.two_probes.settled import ROOM_C, Between, Settled

_OVER_S = 240.0
_SLOWEST_BY_AIR, _SLOWEST_BY_RADIATION = 1.0 / 3000.0, 1.0 / 3000.0
_LEAST_CHAMBER_C = 200.0
# Of what it stands above the room: the probe shows less than so much of the chamber's.
_SHARE = 0.6
# Of what the slowest pot would climb, what such a probe climbs at most.
_CLIMBS = 0.25


class Unseated:
    """Looks for a pot's probe that is not at its pot."""

    def __init__(self) -> None:
        self._pairs: deque[Pair] = deque()
        self.stands = False

    def restart(self) -> None:
        """Begin anew."""
        self._pairs.clear()
        self.stands = False

    def feed(self, pair: Pair) -> Settled | None:
        """Take a pair, and give that the probe is out of its seat where that is so and was not before."""
        pairs = self._pairs
        pairs.append(pair)
        while len(pairs) > 2 and pairs[1].time_s <= pair.time_s - _OVER_S:
            pairs.popleft()
        if pair.pot_c - ROOM_C > 0.8 * (pair.chamber_c - ROOM_C):
            self.stands = False
        first = pairs[0]
        if self.stands or pair.time_s - first.time_s < _OVER_S or pair.chamber_c < _LEAST_CHAMBER_C:
            return None
        if any(each.pot_c - ROOM_C > _SHARE * (each.chamber_c - ROOM_C) for each in pairs):
            return None
        least_k = 0.0
        for early, late in zip(pairs, list(pairs)[1:], strict=False):
            air_k, radiated_k = drives_k(early.pot_c, early.chamber_c)
            span_s = late.time_s - early.time_s
            least_k += (_SLOWEST_BY_AIR * air_k + _SLOWEST_BY_RADIATION * radiated_k) * span_s
        climbed_k = pair.pot_c - first.pot_c
        if climbed_k > _CLIMBS * least_k:
            return None
        self.stands = True
        return Settled(
            Between.OUT_OF_SEAT,
            first.time_s,
            pair.time_s,
            pair.pot_c,
            pair.chamber_c,
            climbed_k,
            pair.chamber_c - first.chamber_c,
            least_k,
            pair.time_s - first.time_s,
        )
