"""Takes an unfinished heat up again: finds its record, replays it, and says how long nobody watched.

The heat cannot be repeated, so a watch that comes back (crash, power cut, a service restarted) goes on in the same
record, at its place in the schedule, with its soak clock and its alarms. Nothing is guessed: where no clock can tell
how long the watch was blind, that is what is said, and nothing of the blind time is credited.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

import msgspec

from rampwarden.clock import Moment, present_moment
from rampwarden.core.limits import Edges
from rampwarden.core.model import AlarmState, Event, Input, Measurement, Notice, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.quantities import format_duration
from rampwarden.errors import RecordError
from rampwarden.records.header_parameters import header_remarks, parameters_of, takeover_remark
from rampwarden.records.record_lines import Header, Line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay, schedule_of

# Enough to hold the last few lines whole; one line is at most this long.
_TAIL_BYTES = 2 * 65_536
_NUMBERED = re.compile(rb'^\{"seq":(\d{1,18}),.*\}$', re.MULTILINE)
_DATED = re.compile(rb'^\{"seq":\d{1,18},"kind":"[a-z]{1,20}","time_s":(\d{1,12}(?:\.\d{1,9})?),', re.MULTILINE)
_ENDED = re.compile(rb'^\{"seq":\d{1,18},"kind":"end",.*\}$', re.MULTILINE)


@dataclass(frozen=True, slots=True)
class TakenUp:
    """An unfinished heat, brought back to where its record ends.

    `now_s` is the present on the heat's clock. `blind_s` is how long nobody watched; None where no clock can tell, and
    then the heat's clock goes on where the record ends. `unacknowledged` are the alarms that must ring again, `untold`
    the events of the last input that never reached the record: nobody has heard of them yet. `remarks` say what of
    the record this version could not take, or that an older one began it.
    """

    path: Path
    header: Header
    monitor: Monitor
    next_seq: int
    now_s: float
    blind_s: float | None
    unacknowledged: tuple[Event, ...]
    untold: tuple[Event, ...]
    torn: bool
    remarks: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """What was found and how long the watch was blind, for the record and the log."""
        blind = "for a time no clock here can tell" if self.blind_s is None else f"for {format_duration(self.blind_s)}"
        torn = "; its torn last line was dropped" if self.torn else ""
        return f"taken up again from {self.path.name}, blind {blind}{torn}"


def find_unfinished(folder: Path, port: str, within_s: float, now: Moment) -> Path | None:
    """Give the newest record of `port` in `folder` if it was not closed and was written within `within_s` seconds."""
    for path in sorted(folder.glob("*.jsonl"), key=written_s, reverse=True):
        try:
            with RecordReader(path) as reader:
                header = reader.header
        except RecordError:
            continue
        if header.board.get("port") == port:
            # Only the newest counts: an older heat left open was given up when the next one began.
            tail = _tail(path)
            is_old = max(0.0, _age_s(path, header, tail, now)) >= within_s
            return None if is_old or _ENDED.search(tail) else path
    return None


def _age_s(path: Path, header: Header, tail: bytes, now: Moment) -> float:
    """Give how long nothing was written: by the host's own clock within one boot, since a wall clock can be set."""
    times = _DATED.findall(tail)
    if header.boot and header.boot == now.boot and times:
        return now.host_s - header.zero_s - float(times[-1])
    return now.wall.timestamp() - written_s(path)


class Witness(Protocol):
    """Who looks on while a record is replayed, so as to know what was: a display goes on from there."""

    def tell(self, event: Event) -> None:
        """Take note of an event."""
        ...

    def follow(self, item: Input, measurement: Measurement | None, edges: Edges) -> None:
        """Take note of an input and of what was measured last."""
        ...


def take_up(path: Path, present: Callable[[], Moment] = present_moment, witness: Witness | None = None) -> TakenUp:
    """Replay an unfinished record; raises `RecordError` when it cannot be gone on with.

    `present` is asked after the replay, which may take seconds; `witness` looks on meanwhile.
    """
    with RecordReader(path) as reader:
        header = reader.header
        monitor = Monitor(schedule_of(header, str(path)), parameters_of(header, str(path)))
        ending = _Ending()
        lines: Iterable[Line] = reader if witness is None else _witnessed(reader, monitor, witness)
        last_events = _last_of_each_alarm(ending.note_made(Replay(monitor).events(ending.note_recorded(lines))))
    numbers = _NUMBERED.findall(_tail(path))
    if monitor.time_s is None or not numbers:
        raise RecordError(f"{path}: nothing has been watched in it yet; start afresh with --new")
    ended_s = monitor.time_s
    now_s = _present_s(header, present(), ended_s)
    return TakenUp(
        path=path,
        header=header,
        monitor=monitor,
        next_seq=int(numbers[-1]) + 1,
        now_s=ended_s if now_s is None else now_s,
        blind_s=None if now_s is None else now_s - ended_s,
        unacknowledged=tuple(event for event in last_events if event.state is AlarmState.UNACKNOWLEDGED),
        untold=ending.untold,
        torn=reader.tally.torn,
        remarks=tuple(filter(None, (*header_remarks(header), takeover_remark(header)))),
    )


def _witnessed(lines: Iterable[Line], monitor: Monitor, witness: Witness) -> Iterator[Line]:
    """Pass a record's lines on and show each, with what was measured, once the monitor has taken it."""
    for line in lines:
        yield line
        if isinstance(line, Event):
            witness.tell(_numbered(line, monitor))
        elif isinstance(line, Reading | Notice):
            witness.follow(line, monitor.measurement, monitor.edges())


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


def _present_s(header: Header, now: Moment, ended_s: float) -> float | None:
    """Give the present on the heat's clock: by the host's own clock within one boot, else by the wall clock."""
    if header.boot and header.boot == now.boot:
        present_s = now.host_s - header.zero_s
    else:
        try:
            started = datetime.fromisoformat(header.started)
        except ValueError:
            return None
        present_s = (now.wall - started).total_seconds() if started.tzinfo else -1.0
    # A host whose clock was not set yet at boot lives in the past: that is no length of time.
    return round(present_s, 3) if present_s >= ended_s else None


def _last_of_each_alarm(events: Iterable[Event]) -> list[Event]:
    last: dict[str, Event] = {}
    for event in events:
        if event.alarm is not None:
            last[event.alarm] = event
    return list(last.values())


def written_s(path: Path) -> float:
    """Give when a file was written last, s of the wall clock; 0 where nobody can tell."""
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _tail(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            size = file.seek(0, 2)
            file.seek(max(0, size - _TAIL_BYTES))
            return file.read(_TAIL_BYTES)
    except OSError as error:
        raise RecordError(f"{path}: cannot read: {error.strerror}") from error
