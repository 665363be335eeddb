"""What nothing is heard without: subscriptions that are asked for again until the broker grants them.

A cluster that has just lost a node refuses them until it has found together again, and says so by nothing but that one
refusal; a single broker does until somebody has mended its rules. Neither will call us when that is over. Times are
given.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rampwarden.outputs.mqtt.link import Link

_FIRST_WAIT_S = 0.5
# Rules that are wrong stay so until a person changes them; half a minute is soon enough then.
_LONGEST_WAIT_S = 30.0
# A broker that has not answered by then has forgotten us, or will take the second request no worse than the first.
_ANSWERED_WITHIN_S = 10.0


@dataclass(frozen=True, slots=True)
class _Wish:
    topics: tuple[str, ...]
    qos: int
    kept: bool
    refusals: int = 0
    due_s: float = 0.0
    """When it is asked for again, unless an answer comes."""


class Hearing:
    """Keeps the wishes of one connection at a time."""

    def __init__(self) -> None:
        self._asked: dict[int, _Wish] = {}
        self._refused: list[_Wish] = []

    @property
    def is_deaf(self) -> bool:
        """Whether anything was refused that has not been granted since."""
        return bool(self._refused) or any(wish.refusals for wish in self._asked.values())

    def begin(self) -> None:
        """Begin on a new connection, on which nothing has been asked for."""
        self._asked.clear()
        self._refused.clear()

    def ask(self, link: Link, topics: Sequence[str], now_s: float, *, qos: int = 1, kept: bool = True) -> None:
        """Ask for messages as `Link.subscribe` does, and go on asking; an earlier wish for the same ones is void."""
        wish = _Wish(tuple(topics), qos, kept)
        void = [number for number, earlier in self._asked.items() if earlier.topics == wish.topics]
        earlier = [self._asked.pop(number) for number in void]
        earlier += [each for each in self._refused if each.topics == wish.topics]
        self._refused = [each for each in self._refused if each.topics != wish.topics]
        self._ask(link, replace(wish, refusals=max((each.refusals for each in earlier), default=0)), now_s)

    def refused(self, number: int, now_s: float) -> bool:
        """Note that the broker refused a request; gives whether it was one of these."""
        wish = self._asked.pop(number, None)
        if wish is None:
            return False
        wait_s = min(_FIRST_WAIT_S * 2**wish.refusals, _LONGEST_WAIT_S)
        self._refused.append(replace(wish, refusals=wish.refusals + 1, due_s=now_s + wait_s))
        return True

    def granted(self, number: int) -> bool:
        """Note that the broker granted one; gives whether everything is heard now that was refused before."""
        wish = self._asked.pop(number, None)
        return wish is not None and wish.refusals > 0 and not self.is_deaf

    def step(self, link: Link, now_s: float) -> None:
        """Ask again for what is due."""
        again = [wish for wish in self._refused if now_s >= wish.due_s]
        self._refused = [wish for wish in self._refused if now_s < wish.due_s]
        for number in [number for number, wish in self._asked.items() if now_s >= wish.due_s]:
            again.append(self._asked.pop(number))
        for wish in again:
            self._ask(link, wish, now_s)

    def _ask(self, link: Link, wish: _Wish, now_s: float) -> None:
        number = link.subscribe(list(wish.topics), qos=wish.qos, kept=wish.kept)
        self._asked[number] = replace(wish, due_s=now_s + _ANSWERED_WITHIN_S)
