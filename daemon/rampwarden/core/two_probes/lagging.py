"""A pot that lags its chamber more than its own capacity explains: cold metal in it, metal that melts, or water.

What its law foretells for the last four minutes and what it climbed in them stand side by side. Missing is what it
climbed less than two thirds of that. In kelvin of the empty pot: a charge of a fifth of its capacity, put in cold at
1000 °C, is missing some 160. A lifted lid bends both courses for a while and is waited for.
"""

from collections import deque

from rampwarden.core.two_probes.pairs import Pair
from rampwarden.core.two_probes.pot_law import PotLaw
from rampwarden.core.two_probes.settled import Between, Settled

_OVER_S = 240.0
_LEAST_S = 60.0
# Of what is foretold, what a law learnt in the last quarter of an hour may be wrong by.
_SLACK = 0.35
# K, and of what the pot's probe shows, that must be missing; and when nothing is any more.
_TELLS_K, _TELLS_SHARE = 25.0, 0.02
_ENDS_K = 10.0
# Only a pot that its chamber drives up by so much, K, and that does not even climb such a share of it, lags.
_DRIVEN_K, _CLIMBS = 30.0, 0.4


class Lagging:
    """Compares the last minutes with the pot's law. Public state is for reading only."""

    def __init__(self, law: PotLaw) -> None:
        self._law = law
        self._pairs: deque[Pair] = deque()
        self._foretold_k: deque[float] = deque()
        self.stands = False
        self.missing_k = 0.0

    def restart(self) -> None:
        """Begin anew: what comes does not go on from what came."""
        self._pairs.clear()
        self._foretold_k.clear()
        self.stands = False
        self.missing_k = 0.0

    @property
    def teaches(self) -> bool:
        """Whether the pot is as its law knows it, so that the law may go on learning."""
        return self.missing_k < 0.5 * _TELLS_K

    def feed(self, pair: Pair) -> None:
        """Take a pair."""
        pairs = self._pairs
        if not self._law.is_known:
            return
        self._foretold_k.append(self._law.foretold_k([pairs[-1], pair]) if pairs else 0.0)
        pairs.append(pair)
        while pairs[0].time_s < pair.time_s - _OVER_S:
            pairs.popleft()
            self._foretold_k.popleft()
        # From wherever most is missing since: a charge is no older than its fall.
        climbed_k = foretold_k = 0.0
        self.missing_k = 0.0
        for place in range(len(pairs) - 1, 0, -1):
            foretold_k += self._foretold_k[place]
            climbed_k = pair.pot_c - pairs[place - 1].pot_c
            is_driven = foretold_k > _DRIVEN_K and climbed_k < _CLIMBS * foretold_k
            if is_driven and pair.time_s - pairs[place - 1].time_s >= _LEAST_S:
                self.missing_k = max(self.missing_k, foretold_k - climbed_k - _SLACK * foretold_k)
        if self.missing_k < _ENDS_K:
            self.stands = False

    def judge(self) -> Settled | None:
        """Give that the pot lags where that is so and was not before."""
        pairs = self._pairs
        if self.stands or len(pairs) < 2:
            return None
        first, last = pairs[0], pairs[-1]
        if self.missing_k < max(_TELLS_K, _TELLS_SHARE * last.pot_c):
            return None
        self.stands = True
        return Settled(
            Between.POT_LAGS,
            first.time_s,
            last.time_s,
            last.pot_c,
            last.chamber_c,
            last.pot_c - first.pot_c,
            last.chamber_c - first.chamber_c,
            sum(self._foretold_k) - self._foretold_k[0],
            last.time_s - first.time_s,
        )
