"""What of a heat has been told before the disk had it: the newest events, as long as the disk lags behind."""

from collections import deque
from dataclasses import dataclass

from rampwarden.core.model import Event
from rampwarden.filed import Filed

# A disk that never comes back must not cost memory without end.
_MOST = 1000


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    alarm: str
    is_listed: bool


class Unfiled:
    """The lines that the disk has yet to take. They reach it in order, so one that is there vouches for all before."""

    def __init__(self) -> None:
        self._lines: deque[_Line] = deque(maxlen=_MOST)

    def note(self, event: Event, filed: Filed | None, *, is_listed: bool) -> None:
        """Take note of an event; `is_listed` where it is one of the happenings."""
        if filed is None:
            return
        if filed.on_disk:
            self._lines.clear()
        else:
            self._lines.append(_Line(filed.number, event.alarm or "", is_listed))

    def note_on_disk(self, number: int) -> None:
        """Take note that the disk has every line up to this number."""
        while self._lines and self._lines[0].number <= number:
            self._lines.popleft()

    def clear(self) -> None:
        """Forget them."""
        self._lines.clear()

    @property
    def happenings(self) -> int:
        """How many of the latest happenings they are."""
        return sum(line.is_listed for line in self._lines)

    @property
    def alarms(self) -> frozenset[str]:
        """The alarms whose last change is not on the disk."""
        return frozenset(line.alarm for line in self._lines)
