"""The board's own buzzer: a heartbeat while the watch's loop runs, and the pattern of the most urgent alarm.

Policy. No thread and no queue of its own: `say` puts a line into the board's bounded queue and returns. A heartbeat
goes out when the loop shows where the heat stands, about once a second, so that a loop that hangs falls silent and the
board sounds by itself. The pattern goes with every heartbeat: one that is lost is made up for a second later. When the
watch ends because somebody asked it to, the board is told so; when it dies, it is not.
"""

from collections.abc import Callable
from typing import Protocol

from rampwarden.core.instrument import PATTERN_OF, Pattern, annunciation, heartbeat
from rampwarden.core.model import AlarmState, Event, EventName, HeatStatus, Priority
from rampwarden.filed import Filed
from rampwarden.plain_logs import structlog

# Five heartbeats missed. A port that is opened anew costs the board two or three of them.
PATIENCE_MS = 5000


class LineToBoard(Protocol):
    """Where lines to the board go: a bounded queue that never makes anybody wait."""

    dropped: int
    farewell: Callable[[], bytes]

    def say(self, line: bytes) -> None:
        """Put a line in the queue; returns at once."""


class Buzzer:
    """Speaks over `line`; `asked_to_end` tells at its end whether that was somebody's wish."""

    def __init__(self, line: LineToBoard, asked_to_end: Callable[[], bool]) -> None:
        self._line = line
        self._asked_to_end = asked_to_end
        self._unacknowledged: dict[str, Priority] = {}
        self._seq = 0
        self._trouble_said = False
        line.farewell = self._last_words

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        """Take note of an event; a change of the most urgent alarm is said at once."""
        if event.event is not EventName.ALARM or event.alarm is None or event.priority is None:
            return
        before = self._pattern()
        if event.state is AlarmState.UNACKNOWLEDGED:
            self._unacknowledged[event.alarm] = event.priority
        else:
            self._unacknowledged.pop(event.alarm, None)
        if self._pattern() is not before:
            self._say(annunciation(self._seq, self._pattern()))

    def show(self, status: HeatStatus) -> None:
        """Send a heartbeat, and the pattern again."""
        self._say(heartbeat(self._seq, PATIENCE_MS))
        self._say(annunciation(self._seq, self._pattern()))
        if self._line.dropped and not self._trouble_said:
            self._trouble_said = True
            structlog.get_logger().warning(
                "the board does not take what its buzzer is told: does it read, and is its RX wired? It will not sound"
            )

    def _pattern(self) -> Pattern:
        return max((PATTERN_OF[priority] for priority in self._unacknowledged.values()), default=Pattern.SILENT)

    def _say(self, line: bytes) -> None:
        self._seq = (self._seq + 1) & 0xFFFF
        self._line.say(line)

    def _last_words(self) -> bytes:
        if not self._asked_to_end():
            return b""
        return annunciation(self._seq, Pattern.SILENT) + heartbeat(self._seq + 1, 0)
