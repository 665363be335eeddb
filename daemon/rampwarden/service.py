"""The run loop: source to monitor, monitor to record, record to everything else.

Owns the order in which things happen and nothing else. For each input: it is put in the record, the monitor is fed, the
events are synced to the record, and only then does any other output hear of them. A disk that takes longer holds no
alarm back: what it does not have in time is told as not yet on disk. Nothing here can raise for the state of the world;
a disk that fails or hangs becomes an input of the monitor, and so an alarm.
"""

import queue
import threading
import time
from collections.abc import Callable, Sequence
from typing import Protocol

import msgspec

from rampwarden.clock import Clock
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.limits import Edges
from rampwarden.core.model import (
    ClockMark,
    Command,
    CommandName,
    EarlierHeat,
    Event,
    HeatStatus,
    Input,
    Measurement,
    Notice,
    NoticeName,
    Priority,
    ProbeReading,
    Reading,
)
from rampwarden.core.monitor import Monitor
from rampwarden.filed import NOT_ON_DISK, Filed
from rampwarden.outputs.status_line import event_sentence, readiness_words, status_sentence
from rampwarden.plain_logs import structlog
from rampwarden.records import End, RecordWriter

# The watch lets its clock run this far behind the present (real seconds): a reading on its way through kernel and queue
# is then still in time. Alarms from readings do not wait for it; those from silence are dated by the grid regardless.
_LAG_S = 0.5
_LOOK_EVERY_S = 1.0
_PATIENCE_S = 0.2
# So long the watch waits for the disk with something to tell, within any one second: whatever the disk does, a reading
# is judged and told of well within half a second of its coming.
_SYNC_PATIENCE_S = 0.3
# At the end. A service is given fifteen seconds to go, and a broker takes eight of them.
_CLOSE_S = 5.0


_OF_THE_START = frozenset(entry.name for entry in CATALOGUE.values() if entry.ends_when_seen)


class Source(Protocol):
    """What the loop takes its inputs from."""

    def start(self) -> None:
        """Begin; from now on `next` gives what comes."""
        ...

    def stop(self) -> None:
        """End, and let go of port and threads."""
        ...

    def next(self, timeout_s: float) -> Reading | ProbeReading | Notice | ClockMark | None:
        """Give the next input, or None after `timeout_s` real seconds without one."""
        ...


class Output(Protocol):
    """What hears of events after the record. Both calls return at once and never raise."""

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        """Take note of an event; each comes once, oldest first.

        `filed` says where it stands in the record, and whether the disk has it yet; None of one from an old record.
        Called in the watch's own thread. Whatever takes time or can fail belongs in a worker: what is raised here would
        end the watch.
        """
        ...

    def show(self, status: HeatStatus) -> None:
        """Take note of where the heat stands (s, °C, °C/s), in the watch's own thread.

        Comes about once a real second, and sooner after events. Each status replaces the one before, so an output that
        cannot keep up may leave some out.
        """
        ...


class Follower(Protocol):
    """What looks on at every input, besides being an output: a display that draws the whole course."""

    def follow(self, item: Input, measurement: Measurement | None, edges: Edges) -> None:
        """Take note of an input, what was measured last, and the edges in force; returns at once and never raises.

        `measurement` is in °C, and None until there has been a reading; after a command or notice it is that of the
        reading before. `edges` are the temperatures (°C) that the judges allow now. Called in the watch's own thread,
        after the events of this input were told.
        """
        ...

    def note_on_disk(self, number: int) -> None:
        """Take note that the disk has every line up to this number, of which some were told before it had them."""
        ...


class Watch:
    """One heat being watched, live or rehearsed."""

    def __init__(
        self,
        source: Source,
        clock: Clock,
        monitor: Monitor,
        record: RecordWriter,
        outputs: Sequence[Output],
        status_every_s: float,
        follower: Follower | None = None,
    ) -> None:
        self._source = source
        self._clock = clock
        self._monitor = monitor
        self._record = record
        self._outputs = outputs
        self._follower = follower
        self._status_every_s = status_every_s
        self._lag_s = _LAG_S * clock.speed
        self._words: queue.SimpleQueue[Command | EarlierHeat | Notice] = queue.SimpleQueue()
        self._log = structlog.get_logger()
        self._record_trouble = ""
        self._readiness_said = False
        self._next_status_s = 0.0
        self._next_look_s = 0.0
        self._patience = _Patience()
        self._last_unfiled: int | None = None
        # Of the heat; what speaks against it before it begins is none.
        self.alarms_raised = 0

    def hear(self, word: Command | EarlierHeat | Notice) -> None:
        """Pass on a person's command, an output's notice or an earlier heat, from any thread; returns at once.

        Raises nothing. Its `time_s` is ignored and set when the loop takes it, within a fraction of a second. What came
        of it is an event, as for any input: a command that cannot be carried out gives `command-refused`.
        """
        self._words.put(word)

    def say(self, sentence: str) -> None:
        """Say something of the watch itself on every output, and in the record; from any thread, returns at once."""
        self.hear(Command(0.0, CommandName.NOTE, text=sentence, by="rampwarden"))

    def take_up(self, sentence: str, untold: Sequence[Event]) -> None:
        """Go on with a heat that was broken off: tell what it could not tell any more, and say so in its record."""
        self._tell(list(untold))
        self.hear(Notice(0.0, NoticeName.WATCH_RESUMED, text=sentence))

    def run(self, stop: threading.Event, finished: Callable[[], bool] = lambda: False) -> None:
        """Watch until `stop` is set, or the source is `finished` and everything it sent has been taken."""
        try:
            self._take(ClockMark(self._now_s()))
            self._source.start()
            self._loop(stop, finished)
        finally:
            # The record first: to let go of a port that hangs takes seconds, and who stops us may not wait for them.
            self._monitor.close()
            self._record.write(End(self._monitor.time_s or 0.0, "complete" if self._monitor.complete else "stopped"))
            self._record.close(_CLOSE_S)
            self._show(self._monitor.status())
            self._source.stop()

    def say_status_every(self, seconds: float) -> None:
        """Have a status line in the log this often, beginning now; from any thread."""
        self._status_every_s = seconds
        self._next_status_s = 0.0

    def status(self) -> HeatStatus:
        """Give where the heat stands."""
        return self._monitor.status()

    def _loop(self, stop: threading.Event, finished: Callable[[], bool]) -> None:
        while not stop.is_set():
            ending = finished()
            item = self._source.next(_PATIENCE_S)
            while not self._words.empty():
                self._take_word(self._words.get())
            if item is None or isinstance(item, ClockMark):
                self._pass_time(self._now_s() if item is None else item.time_s)
                if ending and self._is_last(item):
                    break
            else:
                self._take(item)
            # Each time, not only once a second: what was shown as not yet on disk should not be for longer than it is.
            self._see_to_disk()
            self._look_around()

    def _is_last(self, item: ClockMark | None) -> bool:
        """Tell whether a finished source has nothing more on its way: its clock stands, and it says silence until then.

        That nothing was given for a while is no proof: on a busy machine nobody may have got round to reading it.
        """
        return item is not None and item.time_s >= self._now_s()

    def _take(self, item: Input) -> None:
        now_s = self._monitor.time_s
        if now_s is not None and item.time_s < now_s:
            # The board was late and the clock had run on: a replay must know how far.
            self._record.write(ClockMark(now_s))
        self._record.write(item)
        self._tell(self._monitor.feed(item))
        if self._follower is not None:
            self._follower.follow(item, self._monitor.followed, self._monitor.edges())
        if isinstance(item, Notice):
            where = f"board {item.board} " if item.board else ""
            self._log.info(f"{where}{item.notice}: {item.text}", time_s=item.time_s, kind="notice", count=item.count)

    def _pass_time(self, time_s: float) -> None:
        self._tell(self._monitor.advance(round(time_s - self._lag_s, 3)))

    def _take_word(self, word: Command | EarlierHeat | Notice) -> None:
        time_s = max(self._monitor.time_s or 0.0, round(self._now_s() - self._lag_s, 3))
        self._take(msgspec.structs.replace(word, time_s=time_s))

    def _now_s(self) -> float:
        # To the millisecond, as readings are dated: the record is read by people too.
        return round(self._clock.now_s(), 3)

    def _tell(self, events: list[Event]) -> None:
        if not events:
            return
        with self._patience as patience_s:
            places = self._record.write_events(events, patience_s)
        for event, filed in zip(events, places, strict=True):
            for output in self._outputs:
                output.tell(event, filed)
            # Last: a log line takes its time, and whoever is to be alarmed does not wait for it.
            self._write_log(event, filed)
            if not filed.on_disk:
                self._last_unfiled = filed.number
        # Whoever acknowledges wants to see at once that it was taken, not when the second is over.
        self._next_look_s = 0.0

    def _write_log(self, event: Event, filed: Filed) -> None:
        fields = {name: value for name in ("alarm", "state", "priority", "segment") if (value := getattr(event, name))}
        write = self._log.warning if event.priority in (Priority.HIGH, Priority.MEDIUM) else self._log.info
        sentence = event_sentence(event) if filed.on_disk else f"{event_sentence(event)} · {NOT_ON_DISK}"
        write(sentence, time_s=event.time_s, kind=str(event.event), **fields)
        if event.raises_alarm and event.alarm not in _OF_THE_START:
            self.alarms_raised += 1

    def _look_around(self) -> None:
        """Show once a real second where the heat stands."""
        now_s = time.monotonic()
        if now_s < self._next_look_s:
            return
        self._next_look_s = now_s + _LOOK_EVERY_S
        status = self._monitor.status()
        self._show(status)
        if status.time_s >= self._next_status_s:
            self._next_status_s = status.time_s + self._status_every_s
            self._log.info(status_sentence(status), time_s=status.time_s, kind="status", temp_c=status.temp_c)

    def _show(self, status: HeatStatus) -> None:
        """Show where the heat stands; once it is over, say once what its pot is ready for."""
        for output in self._outputs:
            output.show(status)
        if status.readiness is not None and not self._readiness_said:
            self._readiness_said = True
            self._log.info(
                readiness_words(status), time_s=status.time_s, kind="readiness", ready=status.readiness.ready
            )

    def _see_to_disk(self) -> None:
        # What is over again is news too: a disk that fails now and then is a disk to be looked at.
        for report in self._record.take_reports():
            self._note_record_failing(report)
        if trouble := self._record.trouble:
            self._note_record_failing(trouble)
        elif self._record_trouble:
            self._record_trouble = ""
            lost = self._record.lost_lines
            self._take_notice(NoticeName.RECORD_WRITTEN, lost, f"the record is written again; {lost} lines lost")
        self._record.note_lag()
        if self._last_unfiled is not None and self._record.synced >= self._last_unfiled:
            self._last_unfiled = None
            if self._follower is not None:
                self._follower.note_on_disk(self._record.synced)

    def _note_record_failing(self, trouble: str) -> None:
        if not self._record_trouble:
            self._record_trouble = trouble
            self._take_notice(NoticeName.RECORD_FAILING, self._record.lost_lines, trouble)

    def _take_notice(self, name: NoticeName, count: int, text: str) -> None:
        self._take(Notice(self._monitor.time_s or 0.0, name, count, text))


class _Patience:
    """How long the watch may wait for the disk now: what it has waited already comes back within a second.

    A disk that answers each time just before patience runs out would else hold back readings that come meanwhile, more
    with every event.
    """

    def __init__(self) -> None:
        self._spent_s = 0.0
        self._began_s = time.monotonic()

    def __enter__(self) -> float:
        """Begin to wait; gives for how long at most."""
        now_s = time.monotonic()
        self._spent_s = max(0.0, self._spent_s - _SYNC_PATIENCE_S * (now_s - self._began_s))
        self._began_s = now_s
        return _SYNC_PATIENCE_S - self._spent_s

    def __exit__(self, kind: type[BaseException] | None, error: object, trace: object) -> None:
        """Have waited."""
        self._spent_s += time.monotonic() - self._began_s
