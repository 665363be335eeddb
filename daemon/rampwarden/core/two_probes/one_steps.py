"""Of two probes only one makes a step: it has moved or fails. A furnace moves both, or one and then the other.

A step is a leap beyond what the readings do otherwise, which is over within some lags of a probe and then stands. It is
the pot's probe where the chamber's goes its way all the while: a lid takes from both, cold metal comes in under an
open lid. It is the chamber's where the pot goes on as before although its own law would have it follow the step by
several times what it scatters: a flame that goes out, a turned valve and a lid do bend the pot's course.

Cold metal is told here too: the chamber's probe fell and came back, as under a lid that was lifted, and the pot's did
not.
"""

from collections import deque

from rampwarden.core.two_probes.expected import Beside, Expected
from rampwarden.core.two_probes.pairs import LENGTH_S, Pair
from rampwarden.core.two_probes.pot_law import PotLaw
from rampwarden.core.two_probes.settled import ROOM_C, Between, Settled

# A leap is looked for over two pairs, and judged from the line through the ones before.
_LEAP_PAIRS = 2
_LINE_PAIRS = 9
# Times the usual scatter of such leaps, and the least: of what a probe stands above the room, and K.
_DEVIATIONS = 7.0
_LEAST_SHARE = 0.02
_LEAST_K = 6.0
_UNKNOWN_K, _FEWEST_LEAPS, _REMEMBERED = 4.0, 10, 60
# After so many pairs a lag of 20 s is over, and the step stands; later a pot has followed a chamber, or ignored it.
_SETTLES_PAIRS, _DECIDES_PAIRS, _FOLLOWS_PAIRS = 6, 10, 16
_STANDS = 0.3
# Of the step, what the other probe may have done beside; of what the law foretells, what the pot may have followed.
_BESIDE, _BESIDE_DEVIATIONS = 0.45, 4.0
_FOLLOWED, _FOLLOWED_DEVIATIONS = 0.3, 2.0
# What the law foretells must be so many times what the pot scatters to mean anything, and K.
_FORETOLD_DEVIATIONS, _FORETOLD_LEAST_K = 6.0, 8.0
# Of its dip, what a chamber comes back by when the lid is shut, so many pairs ago at least, and what a pot does not in
# which cold metal lies; and of what the pot has above the room, what cold metal takes at least.
_COMES_BACK, _BACK_PAIRS, _STAYS, _STAYS_SHARE = 0.25, 4, 0.35, 0.04
# A pot that fell with its chamber, whatever by, runs after it for so long, s: what goes up then is no probe's.
_RECOVERS_S = 900.0
_SLIPS, _SLIPS_ABOVE_K = 0.3, 150.0
_RESTS_S = 60.0
# A chamber that leaps again within so long, by so much of it, has a burner that is switched on and off.
_CYCLES_S, _ALIKE = 900.0, 0.5


class OneSteps:
    """Looks for steps of one probe alone. `is_open`: after the last leap the chamber has not come back."""

    def __init__(self, law: PotLaw) -> None:
        self._law = law
        self._pairs: deque[Pair] = deque(maxlen=_LINE_PAIRS + _LEAP_PAIRS)
        self._pot_leaps_k: deque[float] = deque(maxlen=_REMEMBERED)
        self._chamber_leaps_k: deque[float] = deque(maxlen=_REMEMBERED)
        self._by_law = False
        self._opened: list[Pair] = []
        self._beside: list[Beside] = []
        self._expected: Expected | None = None
        self._rests_until_s = -1e9
        self._fell_s = -1e9
        self._leapt: deque[tuple[float, float]] = deque(maxlen=12)
        self.is_open = False

    @property
    def is_undecided(self) -> bool:
        """Whether a leap is being weighed: meanwhile nothing else is judged by it."""
        return bool(self._opened)

    def restart(self) -> None:
        """What comes does not go on from what came."""
        self._pairs.clear()
        self._opened = []

    def feed(self, pair: Pair) -> Settled | None:
        """Take a pair, and give what has been found."""
        self._pairs.append(pair)
        if not self._opened:
            if len(self._pairs) == _LINE_PAIRS + _LEAP_PAIRS and pair.time_s >= self._rests_until_s:
                self._look()
            return None
        self._opened.append(pair)
        if self._expected is not None:
            self._beside.append(self._expected.beside(pair))
        count, found = len(self._opened), None
        if count == _DECIDES_PAIRS:
            found = self._decide_pot()
        elif count == _FOLLOWS_PAIRS:
            found = self._decide_chamber()
        if found is not None or count == _FOLLOWS_PAIRS or (count == _DECIDES_PAIRS and not self._chamber_leapt):
            self._opened = []
            self._rests_until_s = pair.time_s + _RESTS_S
        return found

    def _look(self) -> None:
        """See whether the last pairs leap."""
        pairs = list(self._pairs)
        if self._by_law is not self._law.is_known:
            # What scattered beside a line does not tell what scatters beside the law.
            self._by_law = self._law.is_known
            self._pot_leaps_k.clear()
        expected = Expected(self._law, pairs[:_LINE_PAIRS])
        beside = [expected.beside(each) for each in pairs[_LINE_PAIRS:]]
        last = beside[-1]
        if abs(last.pot_k) > self._pot_least_k or abs(last.chamber_k) > self._chamber_least_k:
            self._opened, self._beside, self._expected = pairs[_LINE_PAIRS:], beside, expected
            return
        self._pot_leaps_k.append(abs(last.pot_k))
        self._chamber_leaps_k.append(abs(last.chamber_k))

    @property
    def _pot_least_k(self) -> float:
        return _least_k(self._pot_leaps_k, self._pairs[-1].pot_c)

    @property
    def _chamber_least_k(self) -> float:
        return _least_k(self._chamber_leaps_k, self._pairs[-1].chamber_c)

    @property
    def _chamber_leapt(self) -> bool:
        return max(abs(each.chamber_k) for each in self._beside) > self._chamber_least_k

    def _decide_pot(self) -> Settled | None:
        """Name the pot's probe where the chamber's has gone its way all the while; or cold metal, where it has not."""
        pots_k, chambers_k = [each.pot_k for each in self._beside], [each.chamber_k for each in self._beside]
        step_k, chamber_k = _mean(pots_k[-4:]), _mean(chambers_k[-4:])
        most_k = max(_BESIDE * abs(step_k), _BESIDE_DEVIATIONS * _scatter_k(self._chamber_leaps_k))
        self.is_open = False
        alone = not self._chamber_leapt and max(map(abs, chambers_k)) <= most_k
        time_s = self._pairs[-1].time_s
        recovers = step_k > 0.0 and time_s < self._fell_s + _RECOVERS_S
        if alone and not recovers and _is_step(pots_k, self._pot_least_k):
            # So much less no probe shows that still touches its pot.
            above_k = self._pairs[-1].pot_c - step_k - ROOM_C
            slipped = -step_k > _SLIPS * above_k and above_k > _SLIPS_ABOVE_K
            between = Between.OUT_OF_SEAT if slipped else Between.POT_PROBE_STEPPED
            return self._settled(between, step_k, chamber_k)
        if min(pots_k) < -self._pot_least_k:
            self._fell_s = time_s
        dip_k, back_k = _rebound(chambers_k)
        self.is_open = self._chamber_leapt and back_k < _COMES_BACK * dip_k
        stays_k = max(self._pot_least_k, _STAYS_SHARE * (self._pairs[-1].pot_c - ROOM_C))
        pot_dip_k, pot_back_k = _rebound(pots_k)
        if dip_k < self._chamber_least_k or self.is_open or -step_k < stays_k or pot_back_k > _STAYS * pot_dip_k:
            return None
        return self._settled(Between.POT_LAGS, step_k, chamber_k)

    def _decide_chamber(self) -> Settled | None:
        """Name the chamber's probe where the pot has ignored its step, and it is not one of many."""
        chambers_k = [each.chamber_k for each in self._beside]
        if not _is_step(chambers_k, self._chamber_least_k):
            return None
        time_s, step_k = self._pairs[-1].time_s, _mean(chambers_k[-4:])
        before = any(time_s < at_s + _CYCLES_S and abs(size_k) > _ALIKE * abs(step_k) for at_s, size_k in self._leapt)
        self._leapt.append((time_s, step_k))
        pot_k, foretold_k = _mean([each.ignored_k for each in self._beside[-4:]]), self._beside[-1].foretold_k
        scatter_k = _scatter_k(self._pot_leaps_k)
        tells = self._law.is_known and abs(foretold_k) > max(_FORETOLD_DEVIATIONS * scatter_k, _FORETOLD_LEAST_K)
        if before or not tells or foretold_k * step_k < 0.0:
            return None
        if abs(pot_k) > max(_FOLLOWED * abs(foretold_k), _FOLLOWED_DEVIATIONS * scatter_k):
            return None
        return self._settled(Between.CHAMBER_PROBE_STEPPED, step_k, pot_k, foretold_k)

    def _settled(self, between: Between, changed_k: float, beside_k: float, foretold_k: float = 0.0) -> Settled:
        since_s, last = self._opened[0].time_s - LENGTH_S, self._opened[-1]
        return Settled(
            between,
            since_s,
            last.time_s,
            last.pot_c,
            last.chamber_c,
            changed_k,
            beside_k,
            foretold_k,
            last.time_s - since_s,
        )


def _is_step(offs_k: list[float], least_k: float) -> bool:
    """Whether it was over within a lag and has stood since."""
    step_k, settled_k = _mean(offs_k[-4:]), _mean(offs_k[_SETTLES_PAIRS - 2 : _SETTLES_PAIRS])
    return abs(step_k) >= least_k and abs(step_k - settled_k) <= _STANDS * abs(step_k)


def _rebound(offs_k: list[float]) -> tuple[float, float]:
    """Give how deep a course dipped and by how much it had come back some pairs ago or since, K."""
    lowest = min(range(len(offs_k)), key=offs_k.__getitem__)
    dip_k = max(0.0, -offs_k[lowest])
    after = offs_k[lowest : len(offs_k) - _BACK_PAIRS + 1] or [offs_k[lowest]]
    return dip_k, max(after) - offs_k[lowest]


def _scatter_k(leaps_k: deque[float]) -> float:
    """Give the usual size of a leap as a standard deviation, K, by its median."""
    return 1.48 * sorted(leaps_k)[len(leaps_k) // 2] if len(leaps_k) >= _FEWEST_LEAPS else _UNKNOWN_K


def _least_k(leaps_k: deque[float], temp_c: float) -> float:
    return max(_DEVIATIONS * _scatter_k(leaps_k), _LEAST_SHARE * (temp_c - ROOM_C), _LEAST_K)


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)
