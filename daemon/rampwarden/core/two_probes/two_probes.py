"""What pot's and chamber's probe settle together, one thing at a time: pairs in, findings out.

Theory of operation. Readings become pairs of ten seconds. The pot's law is learnt from them, three minutes late. A leap
is weighed for a minute and a half, and nothing else is judged meanwhile; then a probe that alone made a step is named,
or the course goes on. What the pot lags by, what parts on a soak and a probe out of its seat are looked for in every
pair that is not being weighed. Nothing is judged in a transfer and for some minutes after it, nor while the pot is
hotter than the chamber in a climb: then they are in two different places.
"""

from rampwarden.core.two_probes.lagging import Lagging
from rampwarden.core.two_probes.one_steps import OneSteps
from rampwarden.core.two_probes.pairs import Pair, PairMeter
from rampwarden.core.two_probes.parting import Parting
from rampwarden.core.two_probes.pot_law import PotLaw
from rampwarden.core.two_probes.settled import Between, Settled
from rampwarden.core.two_probes.unseated import Unseated

_GAP_S = 60.0
_ARRIVES_S = 300.0
# A pot this much hotter than what should heat it stands elsewhere: in an oven, with the furnace's chamber cold.
_ELSEWHERE_K = 30.0
_ELSEWHERE_S = 240.0
# What was told stands for so long at least and is then over, unless it is seen to go on, s.
_STANDS_S = 900.0
# So long after a lid was lifted, and seen to be, the two show what they did before, s.
_SHUTS_S = 420.0
# Of a step, what may be left of it when the probe is back in its place.
_UNDOES = 0.5


class TwoProbes:
    """Follows one pair through a heat. Public state is for reading only.

    `standing` is what is found now, None while nothing is.
    """

    def __init__(self) -> None:
        self._meter = PairMeter()
        self._law = PotLaw()
        self._steps, self._lagging = OneSteps(self._law), Lagging(self._law)
        self._parting, self._unseated = Parting(self._law), Unseated()
        self._last: Pair | None = None
        self._heats = self._soaks = self._carries = False
        # One of the probes is no longer what or where it was, and the pot's law of before tells nothing.
        self._parted = False
        self._rests_until_s = self._lags_from_s = -1e9
        self._stepped: Settled | None = None
        self._apart_since_s: float | None = None
        self.standing: Settled | None = None
        self.pair: Pair | None = None

    def enter(self, time_s: float, *, heats: bool, soaks: bool, carries: bool) -> None:
        """A segment begins at `time_s` (s): is heat wanted in it, does it soak, and is the pot carried."""
        self._heats, self._soaks = heats, soaks
        self._parting.restart()
        if carries or self._carries:
            self.resume(time_s + (0.0 if carries else _ARRIVES_S))
        self._carries = carries

    def resume(self, until_s: float = -1e9) -> None:
        """Begin anew with what comes after `until_s` (s): a blind time, a transfer, readings in doubt."""
        self._law.forget_waiting()
        self._forget()
        self._unseated.restart()
        self._last, self.standing, self._stepped, self._parted = None, None, None, False
        self._rests_until_s = max(self._rests_until_s, until_s)

    def feed(self, time_s: float, temp_c: float, *, on_pot: bool) -> Settled | None:
        """Take a believed reading (s, °C) of either; gives what is newly found."""
        pair = self._meter.feed(time_s, temp_c, on_pot=on_pot)
        if pair is None:
            return None
        self.pair = pair
        return self._take(pair)

    def _is_elsewhere(self, pair: Pair) -> bool:
        """Whether the pot stands in another place than the chamber's probe: for minutes hotter than what heats it."""
        if not self._heats or pair.pot_c < pair.chamber_c + max(_ELSEWHERE_K, 0.1 * pair.pot_c):
            self._apart_since_s = None
            return False
        if self._apart_since_s is None:
            self._apart_since_s = pair.time_s
        return not self._law.is_known or pair.time_s > self._apart_since_s + _ELSEWHERE_S

    def _forget(self) -> None:
        self._steps.restart()
        self._lagging.restart()
        self._parting.restart()

    def _take(self, pair: Pair) -> Settled | None:
        last = self._last
        if self._carries or pair.time_s < self._rests_until_s:
            return None
        if last is not None and pair.time_s - last.time_s > _GAP_S:
            self.resume()
        self._last = pair
        if self._is_elsewhere(pair):
            self._law.forget_waiting()
            self._forget()
            return None
        self._end(pair)
        self._lagging.feed(pair)
        was_undecided = self._steps.is_undecided
        found = self._steps.feed(pair)
        if found is not None and found.between is not Between.POT_LAGS:
            self._law.begin_anew()
            self._parted = True
            if self._is_put_back(found):
                self.standing, found = None, None
            self._unseated.stands = found is not None and found.between is Between.OUT_OF_SEAT
        if was_undecided and not self._steps.is_undecided:
            # What a leap did to both courses is no lag and no parting.
            self._lagging.restart()
            self._parting.restart()
            if self._steps.is_open:
                self._lags_from_s = pair.time_s + _SHUTS_S
        elif not self._steps.is_undecided:
            found = self._look(pair)
        if self._lagging.teaches and not self._steps.is_undecided:
            self._law.feed(pair)
        if found is not None:
            self.standing = found
        return found

    def _look(self, pair: Pair) -> Settled | None:
        """Look for what takes longer than a step."""
        unseated = self._unseated.feed(pair) if self._heats else None
        out = self._unseated.stands or self._blames(Between.POT_PROBE_STEPPED, Between.CHAMBER_PROBE_STEPPED)
        waits = out or self._parted or self._soaks or not self._heats or pair.time_s < self._lags_from_s
        lags = None if waits else self._lagging.judge()
        if out or self._lagging.stands:
            self._parting.restart()
        parts = self._parting.feed(pair) if self._soaks and not out else None
        return unseated or lags or parts

    def _blames(self, *between: Between) -> bool:
        return self.standing is not None and self.standing.between in between

    def _end(self, pair: Pair) -> None:
        """Let what stands be over where it no longer shows."""
        standing = self.standing
        if standing is None:
            return
        match standing.between:
            case Between.OUT_OF_SEAT:
                over = not self._unseated.stands or not self._heats
            case Between.POT_LAGS:
                over = not self._lagging.stands and pair.time_s > standing.found_s + _SHUTS_S
            case Between.POT_PROBE_DRIFTS | Between.CHAMBER_PROBE_DRIFTS:
                over = not self._parting.stands
            case _:
                over = pair.time_s > standing.found_s + _STANDS_S
        if over:
            self.standing = None
            self._unseated.stands = False

    def _is_put_back(self, found: Settled) -> bool:
        """Whether this step undoes the one before of the same probe: nothing to tell, and what stood is over."""
        last = self._stepped
        pots = (Between.POT_PROBE_STEPPED, Between.OUT_OF_SEAT)
        is_same = last is not None and (last.between is found.between or {last.between, found.between} <= {*pots})
        if last is None or not is_same or abs(last.changed_k + found.changed_k) > _UNDOES * abs(last.changed_k):
            self._stepped = found
            return False
        self._stepped = None
        return True
