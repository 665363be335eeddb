"""The cursor: how far into the heat records one furnace's messages have been delivered, kept on the disk.

One small JSON file beside the records, replaced whole: written elsewhere, synced, renamed, the folder synced. What it
says may lag behind the truth, never run ahead of it; whoever is interrupted sends a few messages again, with the same
keys. A lock file beside it keeps a second process from delivering for the same furnace.
"""

import fcntl
import os
import re
import threading
import zlib
from dataclasses import dataclass
from pathlib import Path

import msgspec
from msgspec import Struct

from rampwarden.errors import UNREADABLE_JSON

FORMAT = "rampwarden-cursor/1"

# What is left of a damaged cursor: a record's id and its file in the same folder.
_NAMED = re.compile(rb'"id":"([0-9A-Za-z._:-]{1,64})","file":"([0-9A-Za-z._ -]{1,200}\.jsonl)"')
# Keys of refused messages worth looking at; the events themselves stand in the record for good.
_MOST_REFUSED = 100


class CursorPosition(Struct):
    """A record's place: every event up to `seq`, which ends before byte `offset`, is settled, and those in `also`.

    `started` is when its heat began (ISO 8601), in case its first line can be read no more.
    """

    id: str
    file: str
    seq: int = -1
    offset: int = 0
    also: list[int] = []
    started: str = ""


class Refusal(Struct, frozen=True):
    """A message the broker would not take, and its words for why."""

    key: str
    reason: str


class Cursor(Struct):
    """The whole file; `records` are those not delivered to the end, oldest first.

    `check` is a checksum of all the rest: one flipped bit in a number would pass over events, or send thousands again.
    Cursors of the first version have none.
    """

    format: str = FORMAT
    check: str = ""
    records: list[CursorPosition] = []
    refused: list[Refusal] = []
    refused_count: int = 0

    def place(self, record_id: str) -> CursorPosition | None:
        """Give a record's place, if it has one."""
        return next((each for each in self.records if each.id == record_id), None)

    def refuse(self, key: str, reason: str) -> None:
        """Remember a refusal; the oldest are forgotten, the count is not."""
        self.refused = [*self.refused, Refusal(key, reason)][-_MOST_REFUSED:]
        self.refused_count += 1


@dataclass(frozen=True, slots=True)
class LoadedCursor:
    """A cursor as found on the disk; `saying` tells what was wrong with the file, if anything."""

    cursor: Cursor
    saying: str = ""


class CursorFile:
    """The cursor's file and its lock. Nothing here raises for the state of the disk: methods say what is wrong."""

    def __init__(self, folder: Path, name: str) -> None:
        self.path = folder / f".mqtt-cursor-{name}.json"
        self._lock_path = folder / f".mqtt-cursor-{name}.lock"
        self._lock = -1

    def lock(self) -> str:
        """Take the lock; gives why not, or nothing once it is ours."""
        if self._lock >= 0:
            return ""
        try:
            descriptor = os.open(self._lock_path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o640)
        except OSError as error:
            return f"{self._lock_path}: cannot be opened: {error.strerror}"
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(descriptor)
            return f"another watch on this computer already sends for this furnace ({self._lock_path} is locked)"
        self._lock = descriptor
        return ""

    def load(self) -> LoadedCursor:
        """Read the cursor. A file that cannot be understood is put aside: the watch must start all the same."""
        try:
            data = self.path.read_bytes()
        except FileNotFoundError:
            return LoadedCursor(Cursor())
        except OSError as error:
            return LoadedCursor(Cursor(), self._put_aside(error.strerror or str(error)))
        try:
            cursor = msgspec.json.decode(data, type=Cursor)
        except UNREADABLE_JSON as error:
            return self._begun_again(data, str(error))
        if cursor.format != FORMAT:
            return LoadedCursor(Cursor(), self._put_aside(f"format {cursor.format!r}"))
        if cursor.check and cursor.check != _checksum(cursor):
            return self._begun_again(data, "its checksum is wrong")
        return LoadedCursor(cursor)

    def save(self, data: bytes) -> str:
        """Write an encoded cursor; gives what went wrong, or nothing."""
        temporary = self.path.with_suffix(".tmp")
        try:
            with temporary.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            temporary.rename(self.path)
            folder = os.open(self.path.parent, os.O_RDONLY | os.O_CLOEXEC)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)
        except OSError as error:
            return f"{self.path}: cannot be written: {error.strerror}"
        return ""

    def close(self) -> None:
        """Let go of the lock."""
        if self._lock >= 0:
            os.close(self._lock)
            self._lock = -1

    def _begun_again(self, data: bytes, why: str) -> LoadedCursor:
        """Give the records a damaged cursor still names, each from its beginning: sent twice is better than never."""
        named = dict.fromkeys(_NAMED.findall(data))
        records = [CursorPosition(name.decode(), file.decode()) for name, file in named]
        again = f"{len(records)} of its records are sent once more from their beginning" if records else ""
        return LoadedCursor(Cursor(records=records), self._put_aside(why, again))

    def _put_aside(self, why: str, then: str = "") -> str:
        then = then or "earlier records are not sent"
        aside = self.path.with_suffix(".unreadable")
        try:
            self.path.replace(aside)
        except OSError as error:
            return f"{self.path}: not a cursor ({why}), and cannot be put aside: {error.strerror}"
        return f"{self.path}: not a cursor ({why}); put aside as {aside.name}, {then}"


def files_owed(folder: Path) -> frozenset[str] | None:
    """Give the names of the records in `folder` that some furnace's broker has not got to the end.

    None where a cursor cannot be read: then it may be any of them. Writes nothing, and puts nothing aside.
    """
    owed: set[str] = set()
    try:
        for path in folder.glob(".mqtt-cursor-*.json"):
            cursor = msgspec.json.decode(path.read_bytes(), type=Cursor)
            if cursor.format != FORMAT or (cursor.check and cursor.check != _checksum(cursor)):
                return None
            owed.update(place.file for place in cursor.records)
    except (OSError, *UNREADABLE_JSON):
        return None
    return frozenset(owed)


def hand_cursor_over(old: Path, new: Path, name: str) -> str:
    """Have the record `old`, moved to `new`, delivered from there on by the cursor of that folder.

    Its id stays, and so do its events' keys.
    Where the cursor of the folder it came from knows nothing of it, nothing of it waits. Gives what went wrong, or
    nothing.
    """
    came_from, goes_to = CursorFile(old.parent, name), CursorFile(new.parent, name)
    try:
        trouble = came_from.lock() or goes_to.lock()
        if trouble:
            return f"{trouble}; what the broker has not got of {new.name} is not sent"
        places = [place for place in came_from.load().cursor.records if place.file == old.name]
        if not places:
            return ""
        cursor = goes_to.load().cursor
        known = {place.id for place in cursor.records}
        cursor.records += [msgspec.structs.replace(each, file=new.name) for each in places if each.id not in known]
        trouble = goes_to.save(encoded(cursor))
        return trouble and f"{trouble}; what the broker has not got of {new.name} may not be sent"
    finally:
        came_from.close()
        goes_to.close()


def encoded(cursor: Cursor) -> bytes:
    """Give the file's bytes, checksum included."""
    cursor.check = _checksum(cursor)
    return msgspec.json.encode(cursor)


def _checksum(cursor: Cursor) -> str:
    return f"{zlib.crc32(msgspec.json.encode(msgspec.structs.replace(cursor, check=''))):08x}"


class CursorWriter:
    """Writes cursors in a thread of its own: a disk that takes its time must not hold up an alarm.

    Policy: there is one slot and the newest cursor wins. `trouble` is what went wrong with the last one, for reading.
    """

    def __init__(self, file: CursorFile) -> None:
        self.trouble = ""
        self._file = file
        self._waiting: bytes | None = None
        self._closed = False
        self._changed = threading.Condition()
        self._thread = threading.Thread(target=self._work, name="mqtt cursor", daemon=True)
        self._thread.start()

    def put(self, cursor: Cursor) -> None:
        """Have a cursor written; returns at once."""
        data = encoded(cursor)
        with self._changed:
            self._waiting = data
            self._changed.notify()

    def close(self, patience_s: float) -> None:
        """Write what waits, and end; a disk that hangs is not waited for any longer than this."""
        with self._changed:
            self._closed = True
            self._changed.notify()
        self._thread.join(patience_s)

    def _work(self) -> None:
        while True:
            with self._changed:
                while self._waiting is None and not self._closed:
                    self._changed.wait()
                data, self._waiting = self._waiting, None
            if data is None:
                return
            self.trouble = self._file.save(data)
