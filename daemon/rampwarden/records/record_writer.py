"""The heat record's writer: appended while the heat runs, events synced before anything else hears of them.

Nothing written is ever changed. What cannot be written for lack of space waits here, bounded, and the watch goes on.
"""

import contextlib
import fcntl
import os
from collections import deque
from pathlib import Path
from typing import Self

from rampwarden.core.model import Event, Input
from rampwarden.errors import RecordError
from rampwarden.records.locks import lock_holder
from rampwarden.records.record_lines import LONGEST_HEADER, End, Header, Line, encode_line

# Lines kept while the disk is full: at 4 readings a second and 100 bytes a line more than an hour, about 2 MB.
_MOST_WAITING = 20_000
# What may be let go then. All else is kept: it is rare, and a replay without it would tell another story.
_EXPENDABLE = (b'"kind":"reading"', b'"kind":"clock"')


class RecordWriter:
    """Appends to one record. A full or failing disk never raises here: `trouble` says what is wrong.

    Begins with `create` or `resume`, which hold the record against a second writer.
    """

    def __init__(self, path: Path, descriptor: int, next_seq: int) -> None:
        """Take over an open record; `create` and `resume` are the ways in."""
        self.path = path
        self.trouble = ""
        self.lost_lines = 0
        self._file = descriptor
        self._seq = next_seq
        self._waiting: deque[bytes] = deque()
        self._head_is_torn = False
        self._sync_owed = False
        # A file's name may be bytes that are no text, and `trouble` becomes a line of the record itself.
        self._shown = os.fsencode(path).decode(errors="replace")

    @classmethod
    def create(cls, path: Path, header: Header) -> Self:
        """Create the record; raises `RecordError` when the file cannot be made or is there already.

        A header longer than a reader takes is refused as well.
        """
        if len(encode_line(header, 0)) > LONGEST_HEADER:
            raise RecordError(f"{path}: the schedule is too long for a record's header; shorten what its segments say")
        writer = cls(path, _hold(path, _create(path)), next_seq=0)
        writer._append(header)
        writer.sync()
        sync_folder(path.parent)
        return writer

    @classmethod
    def resume(cls, path: Path, next_seq: int) -> Self:
        """Go on in an unfinished record; raises `RecordError` when it cannot be opened or another watch holds it."""
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CLOEXEC)
        except OSError as error:
            raise RecordError(f"{path}: cannot go on in the heat record: {error.strerror}") from error
        writer = cls(path, _hold(path, descriptor), next_seq)
        if not _ends_with_newline(descriptor):
            # The torn line stays as it is, closed off so that the next one stands alone; readers skip it.
            writer._waiting.append(b"\n")
        return writer

    def write(self, item: Input | End) -> None:
        """Put an input (or the end) in line; it reaches the file with the next `flush` or `sync`."""
        self._append(item)

    def write_events(self, events: list[Event]) -> None:
        """Put events in the file and on the disk before returning."""
        if events:
            for event in events:
                self._append(event)
            self.sync()

    def flush(self) -> None:
        """Hand every waiting line to the operating system, and make up for a sync that failed."""
        try:
            while self._waiting:
                self._write_some()
            if self._sync_owed:
                os.fdatasync(self._file)
                self._sync_owed = False
        except OSError as error:
            self.trouble = f"{self._shown}: {error.strerror}"
        else:
            self.trouble = ""

    def sync(self) -> None:
        """Bring every line onto the disk; if that fails now, every `flush` tries again."""
        self._sync_owed = True
        self.flush()

    def close(self) -> None:
        """Sync and close; lines that still cannot be written are counted as lost."""
        self.sync()
        self.lost_lines += len(self._waiting)
        self._waiting.clear()
        with contextlib.suppress(OSError):
            os.close(self._file)

    def _append(self, line: Line) -> None:
        if len(self._waiting) >= _MOST_WAITING:
            self._make_room()
        self._waiting.append(encode_line(line, self._seq))
        self._seq += 1

    def _make_room(self) -> None:
        """Write what can be written; else let the oldest reading go, but never a half-written line."""
        self.flush()
        if len(self._waiting) < _MOST_WAITING:
            return
        for index, line in enumerate(self._waiting):
            if any(kind in line for kind in _EXPENDABLE) and not (index == 0 and self._head_is_torn):
                del self._waiting[index]
                self.lost_lines += 1
                return

    def _write_some(self) -> None:
        # At most this many lines a call: one write stays well under a pipe's or disk block's worth of patience.
        block = b"".join(line for line, _ in zip(self._waiting, range(256), strict=False))
        written = os.write(self._file, block)
        while written:
            head = self._waiting[0]
            if written < len(head):
                self._waiting[0] = head[written:]
                self._head_is_torn = True
                return
            written -= len(head)
            self._waiting.popleft()
            self._head_is_torn = False


def _create(path: Path) -> int:
    """Make the file and its folder; gives the open descriptor."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        # Where the folder's name belongs to a file, the system says no more than that it exists.
        reason = "is a file, not a folder" if path.parent.is_file() else error.strerror
        raise RecordError(f"{path}: cannot make the heat record: {path.parent}: {reason}") from error
    try:
        return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | os.O_CLOEXEC, 0o640)
    except FileExistsError:
        raise RecordError(f"{path}: is there already; a record is never overwritten, choose another name") from None
    except OSError as error:
        raise RecordError(f"{path}: cannot make the heat record: {error.strerror}") from error


def _hold(path: Path, descriptor: int) -> int:
    """Lock the record for this process; raises `RecordError` naming the one that has it."""
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        holder = lock_holder(os.fstat(descriptor))
        os.close(descriptor)
        raise RecordError(f"{path}: is being written by {holder}; stop that watch first") from None
    return descriptor


def _ends_with_newline(descriptor: int) -> bool:
    size = os.fstat(descriptor).st_size
    return size == 0 or os.pread(descriptor, 1, size - 1) == b"\n"


def sync_folder(folder: Path) -> None:
    """Make the new file's name durable too; a folder that cannot be synced is no reason not to watch."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)
