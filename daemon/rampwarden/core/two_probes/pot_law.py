"""How a pot follows its chamber, learnt in the heat itself: dP/dt = a (C - P) + b (C⁴ - P⁴)/(4 T³) + o.

Two furnaces of different make need both terms: in one radiation gives four fifths, in the other hardly any. The offset
takes up what the two probes' own errors make of an even gap. Learnt by least squares that forget within a quarter of
an hour, three minutes late, so that what is being judged has not taught it. Own arithmetic; Newton's law of cooling and
the law of Stefan and Boltzmann (CODATA 2018), whose constants are learnt.
"""

import math
from collections import deque
from itertools import pairwise

from rampwarden.core.two_probes.pairs import LENGTH_S, Pair

LATE_S = 180.0
_FORGETS_S = 900.0
_ZERO_C_IN_K = 273.15
_AT_K = 1173.15
# Nothing is foretold before so much climb has been seen, K, over so long, s.
_LEAST_CLIMB_K = 30.0
_LEAST_S = 240.0
# A usual pot, as four pairs' worth of evidence: it follows within five minutes at 900 °C, half of it by radiation; its
# probes agree within 3 K. What a heat shows outweighs it at once. Own arithmetic.
_USUAL = (1.0 / 600.0, 1.0 / 600.0, 0.0)
_WEIGHT = (400.0, 400.0, 2000.0)


def drives_k(pot_c: float, chamber_c: float) -> tuple[float, float]:
    """Give what drives heat into the pot by air, K, and by radiation as if at 900 °C, K."""
    pot_k, chamber_k = pot_c + _ZERO_C_IN_K, chamber_c + _ZERO_C_IN_K
    return chamber_c - pot_c, (chamber_k**4 - pot_k**4) / (4.0 * _AT_K**3)


class PotLaw:
    """Learns one pot in one furnace. Public state is for reading only."""

    def __init__(self) -> None:
        self._waiting: deque[Pair] = deque()
        self._last: Pair | None = None
        self.begin_anew()

    def begin_anew(self) -> None:
        """One of the probes shows something else than before: what was learnt is of no use."""
        self.forget_waiting()
        self._moments = [[_WEIGHT[row] if row == column else 0.0 for column in range(3)] for row in range(3)]
        self._shown = [_WEIGHT[row] * _USUAL[row] for row in range(3)]
        self._solved: tuple[float, float, float] | None = None
        self._seen_s = 0.0
        self._lowest_c, self._highest_c = math.inf, -math.inf

    @property
    def is_known(self) -> bool:
        """Whether enough has been seen of it to foretell anything."""
        return self._seen_s >= _LEAST_S and self._highest_c - self._lowest_c >= _LEAST_CLIMB_K

    def feed(self, pair: Pair) -> None:
        """Take a pair; it teaches three minutes later, unless it is forgotten before."""
        waiting = self._waiting
        waiting.append(pair)
        while waiting and waiting[0].time_s <= pair.time_s - LATE_S:
            self._learn(waiting.popleft())

    def forget_waiting(self) -> None:
        """What has come of late does not teach: it is not the pot as it was, or not followed from what came before."""
        self._waiting.clear()
        self._last = None

    def foretold_c_per_s(self, pot_c: float, chamber_c: float) -> float:
        """Give the pace of a pot at `pot_c` in a chamber of `chamber_c`, both as read, °C/s."""
        by_air, by_radiation, offset = self._solve()
        air_k, radiated_k = drives_k(pot_c, chamber_c)
        return by_air * air_k + by_radiation * radiated_k + offset

    def foretold_k(self, pairs: list[Pair]) -> float:
        """Give how far the pot should have climbed through these pairs, K."""
        total_k = 0.0
        for early, late in pairwise(pairs):
            pot_c, chamber_c = 0.5 * (early.pot_c + late.pot_c), 0.5 * (early.chamber_c + late.chamber_c)
            total_k += self.foretold_c_per_s(pot_c, chamber_c) * (late.time_s - early.time_s)
        return total_k

    def follows_s(self, temp_c: float) -> float:
        """Give within what time the pot follows at `temp_c` (°C), s."""
        by_air, by_radiation, _ = self._solve()
        return 1.0 / max(by_air + by_radiation * ((temp_c + _ZERO_C_IN_K) / _AT_K) ** 3, 1e-5)

    def _learn(self, pair: Pair) -> None:
        last, self._last = self._last, pair
        if last is None or pair.time_s - last.time_s > 3.0 * LENGTH_S:
            return
        span_s = pair.time_s - last.time_s
        air_k, radiated_k = drives_k(0.5 * (last.pot_c + pair.pot_c), 0.5 * (last.chamber_c + pair.chamber_c))
        row = (air_k, radiated_k, 1.0)
        pace = (pair.pot_c - last.pot_c) / span_s
        self._seen_s += span_s
        self._lowest_c, self._highest_c = min(self._lowest_c, pair.pot_c), max(self._highest_c, pair.pot_c)
        keep = 1.0 - span_s / _FORGETS_S
        for place, value in enumerate(row):
            moments = self._moments[place]
            for other, beside in enumerate(row):
                prior = _WEIGHT[place] if place == other else 0.0
                moments[other] = prior + keep * (moments[other] - prior) + value * beside
            prior = _WEIGHT[place] * _USUAL[place]
            self._shown[place] = prior + keep * (self._shown[place] - prior) + value * pace
        self._solved = None

    def _solve(self) -> tuple[float, float, float]:
        """Solve for both shares and the offset; a share below nothing is none."""
        if self._solved is None:
            moments, shown = self._moments, self._shown
            by_air, by_radiation, offset = _cramer(moments, shown)
            if by_air < 0.0:
                by_air = 0.0
                by_radiation, offset = _pair_solved(moments, shown, 1)
            elif by_radiation < 0.0:
                by_radiation = 0.0
                by_air, offset = _pair_solved(moments, shown, 0)
            self._solved = by_air, by_radiation, offset
        return self._solved


def _cramer(rows: list[list[float]], right: list[float]) -> tuple[float, float, float]:
    def determinant(first: list[float], second: list[float], third: list[float]) -> float:
        return (
            first[0] * (second[1] * third[2] - second[2] * third[1])
            - first[1] * (second[0] * third[2] - second[2] * third[0])
            + first[2] * (second[0] * third[1] - second[1] * third[0])
        )

    whole = determinant(*rows)
    found = []
    for place in range(3):
        swapped = [[right[row] if column == place else rows[row][column] for column in range(3)] for row in range(3)]
        found.append(determinant(*swapped) / whole)
    return found[0], found[1], found[2]


def _pair_solved(rows: list[list[float]], right: list[float], place: int) -> tuple[float, float]:
    """Solve for one share and the offset alone."""
    whole = rows[place][place] * rows[2][2] - rows[place][2] ** 2
    share = (right[place] * rows[2][2] - right[2] * rows[place][2]) / whole
    return max(share, 0.0), (rows[place][place] * right[2] - rows[place][2] * right[place]) / whole
