"""Replays an unfinished record up to where it ends, and says how long nobody watched.

Where no clock can tell that, it is what is said, and nothing of the blind time is credited.
"""

import itertools
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import msgspec

from rampwarden.clock import Moment, present_moment
from rampwarden.core.limits import Edges
from rampwarden.core.model import AlarmState, Event, Input, Measurement, Notice, ProbeReading, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RecordError
from rampwarden.records.header_parameters import header_remarks, parameters_of, takeover_remark
from rampwarden.records.record_lines import Header, Line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.recovery.blind_time import blind_time, present_by_host_s
from rampwarden.records.recovery.finding import written_s
from rampwarden.records.recovery.legible import BelievedLines, LegibleTail
from rampwarden.records.replay import Replay, schedule_of


@dataclass(frozen=True, slots=True)
class TakenUp:
    """An unfinished heat, brought back to where its record ends.

    `now_s` is the present on the heat's clock. `blind_s` is how long nobody watched; None where no clock can tell: then
    it was `at_least_s`, and the heat's clock goes on by that much. `unacknowledged` are the alarms that must ring
    again, `untold` the events of the last input that never reached the record: nobody has heard of them yet. `lines`
    were believed, `lost_lines` could not be read, `missing_lines` are gone, and `disbelieved` ones were dated what
    cannot be: by these a replay of this record would tell another story. `remarks` say what of the header this version
    could not take, or that an older one began it.
    """

    path: Path
    header: Header
    monitor: Monitor
    next_seq: int
    now_s: float
    blind_s: float | None
    at_least_s: float
    unacknowledged: tuple[Event, ...]
    untold: tuple[Event, ...]
    torn: bool
    lines: int = 0
    lost_lines: int = 0
    missing_lines: int = 0
    disbelieved: int = 0
    bound_s: float | None = None
    remarks: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """What was found and how long the watch was blind, for the record and the log."""
        if self.blind_s is not None:
            blind = f"for {format_duration(self.blind_s)}"
        elif self.at_least_s:
            blind = f"for at least {format_duration(self.at_least_s)}; how much longer no clock here can tell"
        else:
            blind = "for a time no clock here can tell"
        torn = "; its torn last line was dropped" if self.torn else ""
        return f"taken up again from {self.path.name}, blind {blind}{torn}"

    def believed_lines(self) -> Iterator[Line]:
        """Read once more the lines that it was taken up from; raises `RecordError` when they cannot be read."""
        with RecordReader(self.path, may_be_damaged=True) as reader:
            yield from itertools.islice(BelievedLines(reader, self.bound_s), self.lines)


class Witness(Protocol):
    """Who looks on while a record is replayed, so as to know what was: a display goes on from there."""

    def tell(self, event: Event) -> None:
        """Take note of an event."""
        ...

    def follow(self, item: Input, measurement: Measurement | None, edges: Edges) -> None:
        """Take note of an input and of what was measured last."""
        ...


@dataclass(frozen=True, slots=True)
class GoneBy:
    """What a record is replayed by: what its header says, or what stands in for what cannot be read of that."""

    header: Header
    schedule: Schedule
    parameters: MonitorParameters


def take_up(
    path: Path,
    present: Callable[[], Moment] = present_moment,
    witness: Witness | None = None,
    by: GoneBy | None = None,
) -> TakenUp:
    """Replay an unfinished record; raises `RecordError` when it cannot be read or nothing was watched in it.

    It goes `by` its own header where nothing else is given. `present` is asked after the replay too, which may take
    seconds; `witness` looks on meanwhile.
    """
    with RecordReader(path, may_be_damaged=by is not None) as reader:
        by = by or _by_its_header(reader.header, str(path))
        header, monitor = by.header, Monitor(by.schedule, by.parameters)
        bound_s = present_by_host_s(header, present())
        believed, ending = BelievedLines(reader, bound_s), _Ending()
        lines: Iterable[Line] = believed if witness is None else _witnessed(believed, monitor, witness)
        last_events = _last_of_each_alarm(ending.note_made(Replay(monitor).events(ending.note_recorded(lines))))
    last_seq = LegibleTail(path).last_seq
    if monitor.time_s is None or last_seq is None:
        raise RecordError(f"{path}: nothing can be read of what was watched in it")
    blind = blind_time(header, present(), monitor.time_s, written_s(path))
    return TakenUp(
        path=path,
        header=header,
        monitor=monitor,
        next_seq=last_seq + 1,
        now_s=blind.now_s,
        blind_s=blind.blind_s,
        at_least_s=blind.at_least_s,
        unacknowledged=tuple(event for event in last_events if event.state is AlarmState.UNACKNOWLEDGED),
        untold=ending.untold,
        torn=reader.tally.torn,
        lines=ending.lines,
        lost_lines=reader.tally.foreign_lines,
        missing_lines=reader.tally.missing_lines,
        disbelieved=believed.disbelieved,
        bound_s=bound_s,
        remarks=tuple(filter(None, (*header_remarks(header), takeover_remark(header)))),
    )


def _by_its_header(header: Header, where: str) -> GoneBy:
    return GoneBy(header, schedule_of(header, where), parameters_of(header, where))


def _witnessed(lines: Iterable[Line], monitor: Monitor, witness: Witness) -> Iterator[Line]:
    """Pass a record's lines on and show each, with what was measured, once the monitor has taken it."""
    for line in lines:
        yield line
        if isinstance(line, Event):
            witness.tell(_numbered(line, monitor))
        elif isinstance(line, Reading | ProbeReading | Notice):
            witness.follow(line, monitor.followed, monitor.edges())


def _numbered(event: Event, monitor: Monitor) -> Event:
    """Give an event its segment's number, which records of the first version lack: the monitor stands there now."""
    if event.segment is None or event.segment_number is not None:
        return event
    return msgspec.structs.replace(event, segment_number=monitor.status().segment_number)


class _Ending:
    """What the last input made and what of it stands in the record: a cut may fall between the two."""

    def __init__(self) -> None:
        self._recorded: list[Event] = []
        self._made: list[Event] = []
        self.lines = 0

    @property
    def untold(self) -> tuple[Event, ...]:
        """The events that were made and not recorded, in order.

        Two versions may word an event differently, and must not tell it twice for that.
        """
        recorded = Counter(map(_what_happened, self._recorded))
        untold = []
        for event in self._made:
            happened = _what_happened(event)
            if recorded[happened]:
                recorded[happened] -= 1
            else:
                untold.append(event)
        return tuple(untold)

    def note_recorded(self, lines: Iterable[Line]) -> Iterator[Line]:
        """Pass a record's lines on; each input begins anew."""
        for line in lines:
            self.lines += 1
            if isinstance(line, Event):
                self._recorded.append(line)
            elif self._made or self._recorded:
                self._recorded.clear()
                self._made.clear()
            yield line

    def note_made(self, events: Iterable[Event]) -> Iterator[Event]:
        """Pass a replay's events on."""
        for event in events:
            self._made.append(event)
            yield event


def _what_happened(event: Event) -> tuple[object, ...]:
    return event.time_s, event.event, event.alarm, event.state


def _last_of_each_alarm(events: Iterable[Event]) -> list[Event]:
    last: dict[str, Event] = {}
    for event in events:
        if event.alarm is not None:
            last[event.alarm] = event
    return list(last.values())
