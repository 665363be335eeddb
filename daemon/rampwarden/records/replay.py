"""Replays a record through the monitor: the same inputs, the same path, the same events as on the day.

Knows the record's lines and the monitor's door, nothing of displays. The record's own events are not looked at, except
that each line's time lets the clock run as far as it had run then.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rampwarden.core.heat import parse_schedule
from rampwarden.core.instrument import StatedTemperature
from rampwarden.core.model import Event, EventName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RecordError
from rampwarden.records.record_lines import End, Header, Line

_ENDINGS = (
    EventName.SEGMENT_STARTED,
    EventName.SCHEDULE_DONE,
    EventName.HEAT_COMPLETE,
    EventName.HEAT_ENDED,
)


@dataclass(slots=True)
class ReplaySummary:
    """What went by during a replay."""

    readings: int = 0
    converted_by_board: int = 0
    first_s: float = 0.0
    last_s: float = 0.0
    highest_c: float | None = None
    highest_uncertainty_c: float | None = None
    closed: bool = False


class Replay:
    """One pass of lines through a monitor; `summary` is complete once `events` is exhausted."""

    def __init__(self, monitor: Monitor) -> None:
        self.monitor = monitor
        self.summary = ReplaySummary()
        self.segment_ends: list[tuple[str, StatedTemperature]] = []
        """Each segment's name with what was read where it ended."""
        self._segment: str | None = None

    def events(self, lines: Iterable[Line]) -> Iterator[Event]:
        """Feed the lines and give the events as they come."""
        for line in lines:
            # Nearly every reading causes nothing, and a heat has a million of them.
            if events := self.take(line):
                yield from events
        self.conclude()

    def take(self, line: Line) -> list[Event]:
        """Feed one line; gives the events it caused."""
        summary = self.summary
        if isinstance(line, Reading):
            if not summary.readings:
                summary.first_s = line.time_s
            summary.readings += 1
            if line.emf_uv is None and line.temp_c is not None:
                summary.converted_by_board += 1
            events = self.monitor.feed(line)
            return self._mind_ends(events) if events else events
        if isinstance(line, Event | End):
            summary.closed = isinstance(line, End)
            events = self.monitor.advance(line.time_s)
            if summary.closed:
                self.monitor.close()
            return events
        return [] if isinstance(line, Header) else self._mind_ends(self.monitor.feed(line))

    def conclude(self) -> None:
        """Complete the summary, after the last line."""
        summary = self.summary
        summary.last_s = self.monitor.time_s or 0.0
        summary.highest_c = highest_c = self.monitor.highest_c
        if highest_c is not None:
            summary.highest_uncertainty_c = self.monitor.expanded_uncertainty_c(highest_c)

    def _mind_ends(self, events: list[Event]) -> list[Event]:
        """Keep what is stated where a segment gives way to the next, or to the end of the heat."""
        for event in events:
            if event.event in _ENDINGS:
                stated = self.monitor.segment_end
                if self._segment is not None and stated is not None:
                    self.segment_ends.append((self._segment, stated))
                self._segment = event.segment if event.event is EventName.SEGMENT_STARTED else None
        return events


def schedule_of(header: Header, where: str) -> Schedule:
    """Give the schedule a record was watched under; raises `RecordError` when it carries none."""
    if header.schedule is None:
        raise RecordError(f"{where}: the record carries no schedule; give one with --schedule FILE")
    return parse_schedule(header.schedule, f"{where} (schedule in its header)")
