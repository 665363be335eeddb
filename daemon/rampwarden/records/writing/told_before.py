"""Events that a killed run had told and its record has not: made again by the next run, they keep their keys.

The inputs of the last moments may stand in the record though the events they made do not: its disk had not taken them,
or somebody has damaged the file. And what time alone brings about is brought about again when the heat is taken up.
That is the same event, and whoever heard of it far away must know it for the same. So the run's note holds a mark of
each, and its key beside it.
"""

import hashlib
from collections.abc import Iterable

from msgspec import Struct

from rampwarden.core.model import Event

_MARK_BYTES = 6


class ToldEvent(Struct, frozen=True, array_like=True):
    """A mark of what an event says, the line it had, and the run and number of its key."""

    mark: str
    line: int
    run: str
    number: int


class ToldBefore:
    """What the run before told of late; each is recognised once. What still stands in the record is not made again."""

    def __init__(self, told: Iterable[ToldEvent] = ()) -> None:
        self._told = {each.mark: each for each in told}

    def file(self, event: Event, line: int, run: str) -> ToldEvent:
        """Give the key of an event that is put as a line of this run: the one it was told under before, if it was."""
        mark = mark_of(event)
        before = self._told.pop(mark, None)
        return ToldEvent(mark, line, run, line) if before is None else ToldEvent(mark, line, before.run, before.number)


def mark_of(event: Event) -> str:
    """Give some letters that no two events of a heat share: what happened, when, and in which words."""
    said = (event.time_s, event.event, event.alarm, event.state, event.text)
    return hashlib.blake2s(repr(said).encode(errors="replace"), digest_size=_MARK_BYTES).hexdigest()
