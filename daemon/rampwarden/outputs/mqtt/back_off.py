"""When to try a broker again, and which: waiting longer each time, and noticing a rival for our client id.

Times are given. A wait starts over only after a connection that lasted: two clients with one id throw each other out
right after connecting, for ever, and each time it looks like success.
"""

import random
from collections.abc import Sequence

from rampwarden.outputs.mqtt.broker import BrokerAddress

_FIRST_WAIT_S = 0.5
# A broker that comes back is found again within 5 s, with the chance in the wait and the time to connect.
_LONGEST_WAIT_S = 4.0
_CHANCE = 0.2
# A connection that lasted this long was a real one.
_LASTED_S = 10.0
# So many in a row that did not: somebody else answers to our name.
_SHORT_ONES = 3
_KEEP_AWAY_S = 60.0


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
        self.old_version = False

    @property
    def address(self) -> BrokerAddress:
        """The broker to try next."""
        return self._brokers[self._index]

    def is_due(self, now_s: float) -> bool:
        """Whether it may be tried now."""
        return now_s >= self._due_s

    def wait_s(self, now_s: float) -> float:
        """Give how long it may not yet."""
        return max(0.0, self._due_s - now_s)

    def use_old_version(self) -> None:
        """Speak MQTT 3.1.1 from now on, and to the same broker."""
        self.old_version = True
        self._index = (self._index - 1) % len(self._brokers)

    def connected(self, now_s: float) -> None:
        """Note that a broker has accepted us."""
        self._connected_s = now_s

    def failed(self, now_s: float) -> bool:
        """Note an attempt that came to nothing; never the sign of a rival."""
        self._index = (self._index + 1) % len(self._brokers)
        if self._index:
            # There is another one to ask before waiting.
            self._due_s = now_s
            return False
        self._wait(now_s)
        return False

    def lost(self, now_s: float, *, taken_over: bool) -> bool:
        """Note a connection that ended; gives whether a rival for our id is the likely cause."""
        lasted_s = now_s - (self._connected_s or now_s)
        if lasted_s >= _LASTED_S and not taken_over:
            self._short_ones = 0
            self._wait_s = _FIRST_WAIT_S
        else:
            self._short_ones += 1
        if taken_over or self._short_ones >= _SHORT_ONES:
            self._short_ones = 0
            self._due_s = now_s + _KEEP_AWAY_S * self._factor()
            return True
        self._wait(now_s)
        return False

    def _wait(self, now_s: float) -> None:
        self._due_s = now_s + self._wait_s * self._factor()
        self._wait_s = min(2 * self._wait_s, _LONGEST_WAIT_S)

    def _factor(self) -> float:
        return 1 + self._chance.uniform(-_CHANCE, _CHANCE)
