"""The heat record's writer: appended while the heat runs, by a thread of its own that alone waits for the disk.

A disk may take its time, fail, fill up or hang; none of it may hold up the watch. Lines are numbered and put in line
here at once; the thread writes and syncs them. Whoever has an event to tell waits for its sync as long as it likes, and
is told whether the disk has it. Nothing written is ever changed. What cannot be written waits, bounded.
"""

import contextlib
import os
import secrets
import threading
import time
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from rampwarden.core.model import Event, Input
from rampwarden.errors import RecordError
from rampwarden.filed import Filed
from rampwarden.records.record_lines import LONGEST_HEADER, End, Header, Line, encode_line
from rampwarden.records.writing import (
    MOST_TOLD,
    Journal,
    Lag,
    Meddling,
    RecordFile,
    RunNote,
    ToldBefore,
    ToldEvent,
    WaitingLines,
)

# Lines kept while the disk takes none: at 4 readings a second and 100 bytes a line more than an hour, about 2 MB.
_MOST_WAITING = 20_000
# Half of the second within which a reading must be in the file whatever happens to this process.
_FLUSH_EVERY_S = 0.5
# Two of these and what a mended record takes to be copied are still within five seconds.
_LOOK_EVERY_S = 2.0
# An SD card that tidies up may take a second or two; a disk that has not answered for this long is an alarm.
_HANGING_S = 3.0
# What is noted for the run after a kill: a disk that owes an answer for longer may never give it.
_LAGGING_S = 0.2
# For whoever is not a watch: as long as it takes.
_ANY_TIME_S = 3600.0
# At the end it is waited for a while: whoever is asked to go has seconds left, and says what is lost.
_END_S = 60.0
# A disk that hangs at the start may not keep a furnace from being watched.
_BEGIN_S = 5.0
# Letters of a run's id: enough that two runs of one heat never share it.
_RUN_BYTES = 3


@dataclass(frozen=True, slots=True)
class _Asked:
    """One wish for the disk's attention, and how long it is waited for."""

    number: int
    until_s: float


class RecordWriter:
    """Appends to one record. A disk in trouble never raises here: `trouble` says what is wrong.

    Begins with `create` or `resume`, which hold the record against a second writer, and ends with `close`. Lines are
    put by one thread, the watch's; the rest may be asked from any. `run` is the fresh id of this run: with an event's
    number it makes its key.
    """

    def __init__(self, path: Path, file: RecordFile, next_seq: int) -> None:
        """Take over an open record; `create` and `resume` are the ways in."""
        self.path = path
        self.run = secrets.token_hex(_RUN_BYTES)
        self.lost_lines = 0
        self._file = file
        self._seq = next_seq
        self._waiting = WaitingLines()
        self._journal = Journal()
        self._written = self._synced = next_seq - 1
        self._asked = self._answered = 0
        self._sync_owed = self._name_owed = False
        self._busy_since_s: float | None = None
        self._trouble = self._misplaced = ""
        self._reports: deque[str] = deque()
        self._next_look_s = time.monotonic() + _LOOK_EVERY_S
        self._closing = False
        self._note: RunNote | None = None
        self._noted = Lag()
        self._newest_s = 0.0
        # Numbers of the events that the disk has not got, and what was told of late.
        self._unfiled: deque[int] = deque()
        self._told: deque[ToldEvent] = deque(maxlen=MOST_TOLD)
        self._told_before = ToldBefore()
        self._changed = threading.Condition()
        # A file's name may be bytes that are no text, and `trouble` becomes a line of the record itself.
        self._shown = os.fsencode(path).decode(errors="replace")
        self._thread = threading.Thread(target=self._work, name="heat record", daemon=True)

    @classmethod
    def create(cls, path: Path, header: Header) -> Self:
        """Create the record; raises `RecordError` when the file cannot be made or is there already.

        A header longer than a reader takes is refused as well.
        """
        if len(encode_line(header, 0)) > LONGEST_HEADER:
            raise RecordError(f"{path}: the schedule is too long for a record's header; shorten what its segments say")
        writer = cls(path, RecordFile.create(path), next_seq=0)
        writer._append(header)
        writer._sync_owed = writer._name_owed = True
        writer._thread.start()
        writer.flush(_BEGIN_S)
        return writer

    @classmethod
    def resume(cls, path: Path, next_seq: int) -> Self:
        """Go on in an unfinished record; raises `RecordError` when it cannot be opened or another watch holds it."""
        file = RecordFile.resume(path)
        writer = cls(path, file, next_seq)
        if not file.ends_whole:
            # The torn line stays as it is, closed off so that the next one stands alone; readers skip it.
            writer._waiting.put(next_seq - 1, b"\n")
        writer._thread.start()
        return writer

    # For the watch

    def write(self, item: Input | End) -> None:
        """Put an input (or the end) in line; it reaches the file within the second."""
        with self._changed:
            self._append(item)

    def write_events(self, events: Sequence[Event], patience_s: float = _ANY_TIME_S) -> list[Filed]:
        """Put events in line and wait for the disk, at most `patience_s`; gives where they stand, and whether there.

        A disk that fails is not waited for, nor one that has been silent for that long already.
        """
        if not events:
            return []
        with self._changed:
            told = []
            for event in events:
                named = self._told_before.file(event, self._seq, self.run)
                told.append(named)
                self._append(event, named)
            self._unfiled.extend(each.line for each in told)
            self._told.extend(told)
            self._sync_owed = True
            self._wait(self._ask(patience_s))
            on_disk = self._synced >= self._seq - 1
            if on_disk:
                self._unfiled.clear()
            # Before anybody is told: killed right afterwards, this run has left word of it.
            self._write_note()
        return [Filed(each.line, each.run, on_disk, _named(each)) for each in told]

    def flush(self, patience_s: float = _ANY_TIME_S) -> None:
        """Have every waiting line handed to the operating system, and a sync that failed made up for."""
        with self._changed:
            self._wait(self._ask(patience_s))

    def sync(self, patience_s: float = _ANY_TIME_S) -> None:
        """Bring every line onto the disk; if that fails now, every `flush` tries again."""
        with self._changed:
            self._sync_owed = True
            self._wait(self._ask(patience_s))

    def close(self, patience_s: float = _END_S) -> None:
        """Sync and close; lines that still cannot be written, or not in that time, are counted as lost."""
        with self._changed:
            self._sync_owed = self._closing = True
            self._ask(patience_s)
        self._thread.join(patience_s)
        with self._changed:
            self._trouble = self.trouble
            lost = len(self._waiting)
            self.lost_lines += lost
            self._waiting.clear()
            self._write_note()
            if self._note is not None:
                self._note.close(keep=bool(lost))

    # How it stands

    @property
    def trouble(self) -> str:
        """What is wrong with the record at this moment; nothing while all is well."""
        since_s = self._busy_since_s
        if since_s is not None and time.monotonic() - since_s >= _HANGING_S:
            return f"{self._shown}: the disk does not answer"
        return self._trouble or self._misplaced

    @property
    def synced(self) -> int:
        """The number of the last line that the disk is known to have; all before it are there too."""
        return self._synced

    def is_answering(self, within_s: float) -> bool:
        """Tell whether the disk owes no answer, or has not owed it for this long."""
        since_s = self._busy_since_s
        return since_s is None or time.monotonic() - since_s < within_s

    def keep_note(self, folder: Path, record_id: str, recorded_s: float) -> str:
        """Note in `folder` what is told and not on the disk; gives what the run before left word of, if any is lost.

        `recorded_s` is the second of the record's last line. To be called before anything else is put.
        """
        self._note = RunNote(folder, record_id)
        left = self._note.left
        words = "" if left is None else left.words(self._written, recorded_s)
        if left is not None:
            self._told_before = ToldBefore(left.told)
            self._told.extend(left.told)
            # Said once: the numbers that are missing will be given again.
            self._note.write(Lag(told=left.told))
        return words

    def note_lag(self) -> None:
        """Bring the note up to date, if there is one; returns at once."""
        with self._changed:
            while self._unfiled and self._unfiled[0] <= self._synced:
                self._unfiled.popleft()
            self._write_note()

    def take_reports(self) -> list[str]:
        """Give each trouble that has begun since this was asked last, also those that are over again."""
        reports = []
        while self._reports:
            reports.append(self._reports.popleft())
        return reports

    # Behind the lock

    def _append(self, line: Line, told: ToldEvent | None = None) -> None:
        if len(self._waiting) >= _MOST_WAITING:
            self._make_room()
        self._newest_s = getattr(line, "time_s", 0.0)
        key = ("", 0) if told is None else (told.run, _named(told))
        self._waiting.put(self._seq, encode_line(line, self._seq, *key))
        self._seq += 1

    def _write_note(self) -> None:
        if self._note is None:
            return
        lag = Lag(told=list(self._told))
        if not self.is_answering(_LAGGING_S) or self.trouble:
            lag = Lag(self._seq - 1, self._newest_s, list(self._unfiled), lag.told)
        if lag != self._noted:
            self._note.write(lag)
            self._noted = lag

    def _make_room(self) -> None:
        """Have written what can be; else let a reading go."""
        self._wait(self._ask(_HANGING_S))
        if len(self._waiting) >= _MOST_WAITING and self._waiting.let_go():
            self.lost_lines += 1

    def _ask(self, patience_s: float) -> _Asked:
        """Wake the thread."""
        now_s = time.monotonic()
        since_s = now_s if self._busy_since_s is None else self._busy_since_s
        self._asked += 1
        self._changed.notify_all()
        return _Asked(self._asked, min(now_s, since_s) + patience_s)

    def _wait(self, asked: _Asked) -> None:
        """Wait until the disk has answered, well or badly, or patience has run out."""
        patience_s = max(0.0, asked.until_s - time.monotonic())
        self._changed.wait_for(lambda: self._answered >= asked.number or not self._thread.is_alive(), patience_s)

    # In the thread

    def _work(self) -> None:
        with contextlib.suppress(OSError):
            self._keep_journal()
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._asked > self._answered or self._closing, _FLUSH_EVERY_S)
                asked, closing = self._asked, self._closing
                sync, self._sync_owed = self._sync_owed, False
            try:
                self._serve(sync=sync)
            except OSError as error:
                self._note_trouble(f"{self._shown}: {error.strerror}", sync_owed=sync)
            except Exception as error:  # outermost of this thread: without it nothing would be written any more
                self._note_trouble(f"{self._shown}: fault in its writer: {error!r}", sync_owed=sync)
            else:
                self._note_trouble("", sync_owed=False)
            with self._changed:
                self._busy_since_s = None
                self._answered = asked
                self._changed.notify_all()
            if closing:
                self._file.close()
                return

    def _serve(self, *, sync: bool) -> None:
        """Do what the disk has to do; raises `OSError` when it does not."""
        if time.monotonic() >= self._next_look_s:
            self._begin()
            self._look_after_it()
            self._next_look_s = time.monotonic() + _LOOK_EVERY_S
        while True:
            with self._changed:
                block = self._waiting.take()
            if not block:
                break
            self._begin()
            count = 0
            try:
                count = self._file.append(block)
                self._journal.add(block[:count])
            finally:
                with self._changed:
                    whole = self._waiting.note_written(count)
            self._written = self._written if whole is None else whole
        if sync:
            written = self._written
            self._begin()
            self._file.sync()
            if not self._misplaced:
                self._synced = written
        if self._name_owed:
            self._begin()
            self._file.sync_name()
            self._name_owed = False

    def _keep_journal(self) -> None:
        """Have in memory what is in the file."""
        self._journal = Journal()
        for piece in self._file.held():
            self._journal.add(piece)

    def _begin(self) -> None:
        self._busy_since_s = time.monotonic()

    def _note_trouble(self, trouble: str, *, sync_owed: bool) -> None:
        with self._changed:
            self._sync_owed = self._sync_owed or sync_owed
            if trouble and not self._trouble:
                self._reports.append(trouble)
            self._trouble = trouble

    def _look_after_it(self) -> None:
        """See whether the record still is where it was, and put it back if not."""
        what = self._file.meddled()
        if what is None:
            self._misplaced = ""
            return
        missing = ""
        content: Iterable[bytes] = self._file.held()
        if what is Meddling.CUT:
            content, gap = self._journal.whole(content)
            missing = "" if gap is None else f", but {gap.words}"
        try:
            aside = self._file.put_back(content)
            self._keep_journal()
        except OSError as error:
            if not self._misplaced:
                self._misplaced = f"{self._shown} {what}, and cannot be put back: {error.strerror}"
                self._reports.append(self._misplaced)
            return
        # What was synced while it had no name was on no disk that anybody could find again.
        self._misplaced, self._synced = "", self._written
        other = f"; what stood in its place is now {aside}" if aside else ""
        whole = missing or " whole"
        self._reports.append(f"{self._shown} {what} while it was being written; it was put back{whole}{other}")


def _named(told: ToldEvent) -> int:
    """Give the number of its key where that is not its line's, else 0."""
    return 0 if told.number == told.line else told.number
