"""Two probes that part slowly on a soak: one of them drifts, and which of them is suspect.

On a soak the gap between chamber and pot is what the pot still takes up and loses: it shrinks, ever more slowly, as the
furnace's lining warms through. Corrected by the pot's own law for what it moves, it is followed in blocks of three
minutes. A gap that *grows* while both are quiet has no cause in the furnace: the pot cannot need ever more drive to
stand still. A wire that ages in a flame reads low, and for good (common practice, no source), so a gap that grows puts
the pot's probe under suspicion: the pot is hotter than it shows. One that shrinks beyond what the lining explains, not
more slowly and by more, the chamber's.
"""

from rampwarden.core.two_probes.pairs import Pair
from rampwarden.core.two_probes.pot_law import PotLaw
from rampwarden.core.two_probes.settled import Between, Settled

_BLOCK_S = 180.0
# An oven's thermostat goes up and down; and no wire ages below, °C. A law that knows less is none, s.
_LEAST_C = 400.0
_SLOWEST_S = 600.0
# The first blocks of a soak are still arrival; the gap is compared with the two after them.
_SETTLES_BLOCKS = 3
_REFERENCE_BLOCKS = 2
_FEWEST = 3
_GROWN_K, _GROWN_SHARE = 8.0, 0.008
_SHRUNK_K, _SHRUNK_SHARE = 15.0, 0.015
# Of what they part by, what the pot may have moved by: somebody holds it, and else there is another reason.
_HELD = 0.35
_COLDER_K = -12.0
# Each half of the growth must show at least such a share of the whole; a shrinking must not slow down.
_STEADY = 0.3
_NOT_SLOWER = 0.45


class Parting:
    """Follows the gap through one soak."""

    def __init__(self, law: PotLaw) -> None:
        self._law = law
        self._block: list[Pair] = []
        self._gaps_k: list[float] = []
        self._pots_c: list[float] = []
        self._begun_s = 0.0
        self.stands = False

    def restart(self) -> None:
        """A soak begins, or what was learnt of the gap no longer holds."""
        self._block = []
        self._gaps_k = []
        self._pots_c = []
        self.stands = False

    def feed(self, pair: Pair) -> Settled | None:
        """Take a pair of a soak, and give that the probes part where that is so and was not before."""
        block = self._block
        block.append(pair)
        if pair.time_s - block[0].time_s < _BLOCK_S:
            return None
        gap_k = sum(each.chamber_c - each.pot_c for each in block) / len(block)
        pace = (_mean_c(block[-5:]) - _mean_c(block[:5])) / (block[-3].time_s - block[2].time_s)
        self._block = [pair]
        if not self._law.is_known or pair.pot_c < _LEAST_C:
            return None
        gap_k -= min(self._law.follows_s(pair.pot_c), _SLOWEST_S) * pace
        gaps_k = self._gaps_k
        if not gaps_k:
            self._begun_s = block[0].time_s
        gaps_k.append(gap_k)
        self._pots_c.append(_mean_c(block))
        known = gaps_k[_SETTLES_BLOCKS:]
        if self.stands or len(known) < _REFERENCE_BLOCKS + _FEWEST:
            return None
        # Means of three blocks: the pair of the first two, the middle, the last.
        early_k = sum(known[:_REFERENCE_BLOCKS]) / _REFERENCE_BLOCKS
        middle = (_REFERENCE_BLOCKS - 1 + len(known) - 1) // 2 + 1
        middle_k, late_k = known[middle - 1 : middle + 1], known[-2:]
        half_k, parted_k = sum(middle_k) / len(middle_k) - early_k, sum(late_k) / 2.0 - early_k
        # A chamber colder than its pot on a soak has had its flame turned down: that comes back, and is no drift.
        between = None if early_k < _COLDER_K else self._suspect(half_k, parted_k, pair.chamber_c)
        moved_k = self._pots_c[-1] - self._pots_c[_SETTLES_BLOCKS]
        if between is None or abs(moved_k) > _HELD * abs(parted_k):
            return None
        self.stands = True
        since_s = self._begun_s + _SETTLES_BLOCKS * _BLOCK_S
        return Settled(
            between, since_s, pair.time_s, pair.pot_c, pair.chamber_c, parted_k, moved_k, 0.0, pair.time_s - since_s
        )

    def _suspect(self, half_k: float, parted_k: float, at_c: float) -> Between | None:
        if parted_k > max(_GROWN_K, _GROWN_SHARE * at_c):
            steady = min(half_k, parted_k - half_k) >= _STEADY * parted_k
            return Between.POT_PROBE_DRIFTS if steady else None
        if -parted_k > max(_SHRUNK_K, _SHRUNK_SHARE * at_c):
            steady = (parted_k - half_k) / parted_k >= _NOT_SLOWER
            return Between.CHAMBER_PROBE_DRIFTS if steady else None
        return None


def _mean_c(pairs: list[Pair]) -> float:
    return sum(pair.pot_c for pair in pairs) / len(pairs)
