"""The outbox: what the heat records hold that has not been delivered yet. There is no second store.

Every event is in the record, or on its way there, when an output hears of it; so the record is the queue, and all that
is kept here is a cursor, and in memory what the disk has yet to take. After a kill, a power cut or a week without a
broker, delivery goes on from there: at least once, with the key (`filed.event_key`) by which a receiver knows a
repetition. The running heat's new events come first (`live`); what was missed follows, oldest record first (`backlog`).

Not safe for threads: one thread, the sender, owns it.
"""

from collections import deque
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rampwarden.core.model import Event
from rampwarden.core.quantities import counted
from rampwarden.filed import Filed
from rampwarden.outputs.outbox.cursor import Cursor, CursorFile, CursorPosition, CursorWriter, encoded
from rampwarden.outputs.outbox.record_queue import Disk, OutboxItem, RecordQueue, read_head

# An event this old is history when it is sent: no receiver should sound for it.
FRESH_S = 5.0

# The cursor is written after this many settled events or this long after the first, whichever comes first: it bounds
# what is sent twice after a kill, and wears an SD card less than a write for every event would.
_SETTLED_AT_MOST = 20
_UNSAVED_AT_MOST_S = 2.0
_LAST_WRITE_S = 2.0


@dataclass(frozen=True, slots=True)
class CurrentRecord:
    """The record of the heat that is running; `started` is wall time in UTC, `disk` is asked how far the record is.

    What stands in it up to the sequence number `carried` was taken over from a damaged record, and is sent from there.
    """

    path: Path
    record_id: str
    started: datetime
    disk: Disk
    carried: int = -1


class Outbox:
    """The undelivered events of one furnace, over all its records in one folder.

    It is made before this run's first event: what the running record has by then, nobody else will tell.
    """

    def __init__(self, name: str, current: CurrentRecord) -> None:
        self._current = current
        self._folder = current.path.parent
        self._file = CursorFile(self._folder, name)
        self._writer: CursorWriter | None = None
        self._cursor = Cursor()
        self._running: RecordQueue | None = None
        self._earlier: deque[RecordQueue] = deque()
        self._told = current.disk.synced
        self._told_early: list[tuple[Event, Filed, float]] = []
        self._live: list[OutboxItem] = []
        self._unsaved = 0
        self._unsaved_since_s: float | None = None
        self._trouble = ""
        self.sayings: deque[str] = deque()
        """What a person should be told, to be taken off here."""

    def open(self) -> str:
        """Take the cursor and note the running record in it; gives why that cannot be, or nothing."""
        if self._writer is not None:
            return ""
        trouble = self._file.lock()
        if trouble:
            return trouble
        loaded = self._file.load()
        if loaded.saying:
            self.sayings.append(loaded.saying)
        self._cursor = loaded.cursor
        if self._cursor.place(self._current.record_id) is None:
            current = self._current
            place = CursorPosition(current.record_id, current.path.name, current.carried)
            place.started = current.started.isoformat()
            self._cursor.records.append(place)
        for place in list(self._cursor.records):
            self._open_record(place)
        if self._running is not None:
            for event, filed, told_s in self._told_early:
                self._running.note_told(event, filed, told_s)
        self._told_early.clear()
        # Before the first event: a heat whose record is not in the cursor would be forgotten after a crash.
        self._note_trouble(self._file.save(encoded(self._cursor)))
        self._writer = CursorWriter(self._file)
        return ""

    @property
    def backlog_waits(self) -> bool:
        """Whether anything may lie behind the running record's end."""
        queues = (*self._earlier, self._running)
        return any(queue is not None and not queue.all_given for queue in queues)

    @property
    def waiting(self) -> int:
        """How many events are known that need sending yet, over all heats."""
        queues = (*self._earlier, self._running)
        return sum(queue.waiting for queue in queues if queue is not None)

    @property
    def refused_count(self) -> int:
        """How many events the broker has refused for good, over all heats."""
        return self._cursor.refused_count

    def tell(self, event: Event, filed: Filed, told_s: float) -> None:
        """Take an event that the watch has told (at monotonic s), which stands where `filed` says."""
        self._told = filed.number
        if self._writer is None:
            # The disk's word is enough for all that it has.
            synced = self._current.disk.synced
            self._told_early = [each for each in (*self._told_early, (event, filed, told_s)) if each[1].number > synced]
        elif self._running is not None:
            self._live.append(self._running.tell(event, filed, told_s))

    def live(self, now_s: float) -> list[OutboxItem]:
        """Give what has been told since this was asked last."""
        if self._running is not None:
            self._running.forget_news(now_s, FRESH_S)
        items, self._live = self._live, []
        return items

    def backlog(self) -> list[OutboxItem]:
        """Give some of what was missed, oldest first; nothing for now when a piece holds no event."""
        for queue in (*self._earlier, *([self._running] if self._running else [])):
            if not queue.all_given:
                items = queue.backlog()
                self._say_what_rots(queue)
                self._forget_finished(queue)
                return items
        return []

    def settle(self, item: OutboxItem, now_s: float) -> None:
        """Note that the broker has taken the event, or never will."""
        queue = self._queue(item)
        if queue is not None:
            queue.settle(item.seq)
            self._forget_finished(queue)
            self._unsaved += 1
            if self._unsaved_since_s is None:
                self._unsaved_since_s = now_s

    def refuse(self, item: OutboxItem, reason: str, now_s: float) -> None:
        """Note that the broker will not have the event, ever; it stays in the record and on the list of refusals."""
        self._cursor.refuse(item.key, reason)
        self.settle(item, now_s)

    def give_back(self, item: OutboxItem) -> None:
        """Note that the event was not delivered; it comes again with the backlog."""
        queue = self._queue(item)
        if queue is not None:
            queue.give_back(item.seq)

    def save_if_due(self, now_s: float) -> None:
        """Follow the record to its end; write the cursor when enough has been settled, or long enough ago."""
        if self._running is not None:
            self._say_what_rots(self._running)
            if self._running.follow() and self._unsaved_since_s is None:
                self._unsaved_since_s = now_s
        since_s = self._unsaved_since_s
        if since_s is not None and (self._unsaved >= _SETTLED_AT_MOST or now_s - since_s >= _UNSAVED_AT_MOST_S):
            self._save()
        if self._writer is not None:
            self._note_trouble(self._writer.trouble)

    def close(self) -> None:
        """Write the cursor and let go of every file."""
        if self._writer is not None:
            if self._running is not None:
                self._running.follow()
            self._save()
            self._writer.close(_LAST_WRITE_S)
            self._writer = None
        for queue in (*self._earlier, *([self._running] if self._running else [])):
            queue.close()
        self._earlier.clear()
        self._running = None
        self._file.close()

    def _open_record(self, place: CursorPosition) -> None:
        path = self._folder / place.file
        running = place.id == self._current.record_id
        head = read_head(path)
        if head is not None and head.id != place.id:
            self._skip(place, "is another heat's record now")
            return
        if head is not None and head.carried:
            # A cursor that was begun again knows no more of what was taken over.
            place.seq = max(place.seq, head.carried)
        # A first line that is damaged costs no message: when the heat began, the cursor knows too.
        started = place.started if head is None else head.started
        if not started or not path.is_file():
            self._skip(place, "cannot be read" if path.is_file() else "is gone")
            return
        try:
            told = self._told if running else None
            queue = RecordQueue(path, place, datetime.fromisoformat(started), self._current.disk, told)
        except (OSError, ValueError) as error:
            self._skip(place, f"cannot be read ({error})")
            return
        if running:
            self._running = queue
        else:
            self._earlier.append(queue)

    def _say_what_rots(self, queue: RecordQueue) -> None:
        """Say how many lines of a record that may have been events can be read no more."""
        count = queue.take_unreadable()
        if count:
            lines = counted(count, "a line", "lines")
            self.sayings.append(f"{queue.place.file}: {lines} of it cannot be read and will not be sent")

    def _skip(self, place: CursorPosition, why: str) -> None:
        self._cursor.records.remove(place)
        self.sayings.append(f"{place.file} {why}: what it still held is not sent")

    def _forget_finished(self, queue: RecordQueue) -> None:
        if not queue.finished:
            return
        self._earlier.remove(queue)
        queue.close()
        self._cursor.records.remove(queue.place)
        self._unsaved += _SETTLED_AT_MOST
        self._unsaved_since_s = 0.0

    def _queue(self, item: OutboxItem) -> RecordQueue | None:
        candidates = (self._running, *self._earlier)
        return next((each for each in candidates if each is not None and each.place.id == item.record_id), None)

    def _save(self) -> None:
        if self._writer is not None:
            self._writer.put(self._cursor)
        self._unsaved = 0
        self._unsaved_since_s = None

    def _note_trouble(self, trouble: str) -> None:
        if trouble and trouble != self._trouble:
            self.sayings.append(f"{trouble}; after a restart messages may be sent again")
        self._trouble = trouble
