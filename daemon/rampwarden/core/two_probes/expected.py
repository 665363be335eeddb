"""Where both probes would be if nothing had happened: straight on, and the pot by its law in the chamber that is shown.

The pot is followed from the line through its last readings, once in the chamber as its probe shows it and once in the
chamber as it would have gone on. What the law is wrong by at the time is taken along as it was.
"""

from msgspec import Struct

from rampwarden.core.two_probes.pairs import Pair
from rampwarden.core.two_probes.pot_law import PotLaw


class Beside(Struct, frozen=True, gc=False):
    """How far a pair lies beside what was expected, K.

    `pot_k`: the pot beside its law in the chamber as shown; `ignored_k`: beside its law in a chamber that went straight
    on; `foretold_k`: what the one is over the other; `chamber_k`: the chamber beside its own line.
    """

    pot_k: float
    ignored_k: float
    foretold_k: float
    chamber_k: float


class Expected:
    """Goes on from some pairs; to be asked in order of time."""

    def __init__(self, law: PotLaw, before: list[Pair]) -> None:
        self._law = law
        self._time_s = self._from_s = before[-1].time_s
        level_c, self._pot_pace = _line([(each.time_s, each.pot_c) for each in before])
        self._from_c, self._pace = _line([(each.time_s, each.chamber_c) for each in before])
        self._shown_c = self._from_c
        self._free_c = self._held_c = level_c
        span_s = self._time_s - before[0].time_s
        self._bias = 0.0
        if law.is_known:
            self._bias = self._pot_pace - law.foretold_k(before) / span_s

    def beside(self, pair: Pair) -> Beside:
        """Give how far the next pair lies beside."""
        span_s = pair.time_s - self._time_s
        line_c = self._from_c + self._pace * (pair.time_s - self._from_s)
        middle_c = line_c - 0.5 * self._pace * span_s
        self._free_c += self._step_k(self._free_c, 0.5 * (self._shown_c + pair.chamber_c), span_s)
        self._held_c += self._step_k(self._held_c, middle_c, span_s)
        self._time_s, self._shown_c = pair.time_s, pair.chamber_c
        return Beside(
            pair.pot_c - self._free_c,
            pair.pot_c - self._held_c,
            self._free_c - self._held_c,
            pair.chamber_c - line_c,
        )

    def _step_k(self, pot_c: float, chamber_c: float, span_s: float) -> float:
        if not self._law.is_known:
            return self._pot_pace * span_s
        return (self._law.foretold_c_per_s(pot_c, chamber_c) + self._bias) * span_s


def _line(points: list[tuple[float, float]]) -> tuple[float, float]:
    """Give level at the last point and slope (1/s) of a straight line through points."""
    count = len(points)
    middle_s, middle = sum(each[0] for each in points) / count, sum(each[1] for each in points) / count
    span = sum((each[0] - middle_s) ** 2 for each in points)
    slope = sum((each[0] - middle_s) * (each[1] - middle) for each in points) / span if span else 0.0
    return middle + slope * (points[-1][0] - middle_s), slope
