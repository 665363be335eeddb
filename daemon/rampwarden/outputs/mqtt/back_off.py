"""When to try a broker again, and which: waiting longer each time, and noticing a rival for our client id.

Times are given. Of several brokers the same one is tried again after a break, and the next after a silence: one that
holds its connections and answers nobody would hold the new one too. A wait starts over only after a connection that
lasted: two clients with one id throw each other out right after connecting, for ever, and each time it looks like
success.
"""

import random
from collections.abc import Sequence

from rampwarden.outputs.mqtt.broker import BrokerAddress
from rampwarden.outputs.mqtt.link import KEEPALIVE_S
from rampwarden.outputs.mqtt.reachability import SILENCE_S

_FIRST_WAIT_S = 0.5
# A broker that comes back is found again within 5 s, with the chance in the wait and the time to connect.
_LONGEST_WAIT_S = 4.0
_CHANCE = 0.2
# A connection that lasted this long was a real one.
_LASTED_S = 10.0
# So many in a row that did not, and no attempt that failed between them: somebody else may answer to our name.
_SHORT_ONES = 3
_KEEP_AWAY_S = 60.0
# One that was silent takes connections all the same, and would cost the others' time to see it once more.
_PASSED_OVER_S = 30.0
# One may be a broker that is just starting.
_HUNG_UP_BEFORE_OLD = 2
# A link that has owed an answer this long is given up: frozen broker, cut cable, or a dead thread in the library.
_PATIENCE_S = float(KEEPALIVE_S)


class BackOff:
    """Waits and choices for a list of brokers, tried in order."""

    def __init__(self, brokers: Sequence[BrokerAddress], chance: random.Random) -> None:
        self._brokers = brokers
        self._chance = chance
        self._index = 0
        self._wait_s = _FIRST_WAIT_S
        self._due_s = 0.0
        self._connected_s: float | None = None
        self._short_ones = 0
        self._is_old = False
        self._hung_up = 0
        self._silences = 0
        self._passed_over_until_s: dict[int, float] = {}

    @property
    def address(self) -> BrokerAddress:
        """The broker to try next."""
        return self._brokers[self._index]

    @property
    def old_version(self) -> bool:
        """Whether to speak MQTT 3.1.1: the broker said so, or it is worth a try, since some hang up on version 5."""
        return self._is_old or self._hung_up >= _HUNG_UP_BEFORE_OLD

    @property
    def patience_s(self) -> float:
        """How long a broker may owe an answer, s. Where others stand ready no longer than until somebody is told; but
        when all of them are silent it is the network or the load, and running from one to the next helps nobody.
        """
        return SILENCE_S if self._silences < len(self._brokers) - 1 else _PATIENCE_S

    def is_due(self, now_s: float) -> bool:
        """Whether it may be tried now."""
        return now_s >= self._due_s

    def wait_s(self, now_s: float) -> float:
        """Give how long it may not yet."""
        return max(0.0, self._due_s - now_s)

    def use_old_version(self) -> None:
        """Speak MQTT 3.1.1 from now on, and to the same broker.

        To the others too: those of a cluster are of one kind, and just after one was lost there is no time to ask each.
        """
        self._is_old = True
        self._index = (self._index - 1) % len(self._brokers)

    def hung_up(self) -> None:
        """Note that it hung up on our first packet. After two of those the older version is tried once, and so on: a
        broker that hangs up on everybody while it starts is spoken to in version 5 in the end.
        """
        self._hung_up = 0 if self.old_version else self._hung_up + 1

    def connected(self, now_s: float) -> None:
        """Note that a broker has accepted us."""
        self._connected_s = now_s

    def answered(self) -> None:
        """Note that it answers."""
        self._silences = 0

    def silent(self, now_s: float) -> None:
        """Note that it owed an answer for too long: the next one is asked."""
        self._silences += 1
        self._passed_over_until_s[self._index] = now_s + _PASSED_OVER_S
        self.failed(now_s)

    def failed(self, now_s: float) -> bool:
        """Note an attempt that came to nothing; never the sign of a rival, who leaves the broker where it is."""
        self._short_ones = 0
        tried = self._index
        self._index = self._next(now_s)
        if self._index > tried:
            # There is another one to ask before waiting.
            self._due_s = now_s
            return False
        self._wait(now_s)
        return False

    def lost(self, now_s: float, *, taken_over: bool) -> bool:
        """Note a connection that ended; gives whether a rival for our id is the likely cause."""
        # Where the older version was but tried, it is found out anew: with the first who hangs up.
        self._hung_up = min(self._hung_up, _HUNG_UP_BEFORE_OLD - 1)
        lasted_s = now_s - (self._connected_s or now_s)
        if lasted_s >= _LASTED_S and not taken_over:
            self._short_ones = 0
            self._wait_s = _FIRST_WAIT_S
        else:
            self._short_ones += 1
        suspected = self._short_ones >= _SHORT_ONES
        if suspected or taken_over:
            self._short_ones = 0
        if taken_over:
            self._due_s = now_s + _KEEP_AWAY_S * self._factor()
        else:
            # A suspicion is said; but nobody keeps away for it, for it may be a broker that starts again and again.
            self._wait(now_s)
        return suspected or taken_over

    def _next(self, now_s: float) -> int:
        count = len(self._brokers)
        others = [(self._index + step) % count for step in range(1, count + 1)]
        answering = (each for each in others if now_s >= self._passed_over_until_s.get(each, now_s))
        return next(answering, others[0])

    def _wait(self, now_s: float) -> None:
        self._due_s = now_s + self._wait_s * self._factor()
        self._wait_s = min(2 * self._wait_s, _LONGEST_WAIT_S)

    def _factor(self) -> float:
        return 1 + self._chance.uniform(-_CHANCE, _CHANCE)
