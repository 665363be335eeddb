"""The heat record: one JSON object a line, appended while the heat runs and never rewritten.

Owns the file format and its durability. Inputs stand in it raw, so that a replay measures again; events stand beside
them, synced to the disk before anything else hears of them. Every line has a sequence number, which is what other
outputs point at. What cannot be written for lack of space waits here, bounded, and the watch goes on.
"""

import contextlib
import fcntl
import gzip
import os
import zlib
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

import msgspec
from msgspec import Struct

from rampwarden.core.model import ClockMark, Command, Event, Input, Notice, Reading
from rampwarden.errors import RecordError
from rampwarden.records.locks import lock_holder

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

FORMAT = "rampwarden-heat/1"

# A longer line is none of ours; without a bound one missing newline would cost all memory. The header carries the whole
# schedule, and a hundred segments with something to say at each fill it to some 100 kB.
_LONGEST_LINE = 65_536
_LONGEST_HEADER = 1_048_576

# Lines kept while the disk is full: at 4 readings a second and 100 bytes a line more than an hour, about 2 MB.
_MOST_WAITING = 20_000
# What may be let go then. All else is kept: it is rare, and a replay without it would tell another story.
_EXPENDABLE = (b'"kind":"reading"', b'"kind":"clock"')


class Header(Struct, frozen=True, tag_field="kind", tag="header", omit_defaults=True):
    """The first line. `started` is wall time (ISO 8601, UTC); `schedule` and `parameters` are what a replay needs.

    `rehearsal` tells that no furnace was watched. `zero_s` is the host's own clock at time 0 within its start `boot`:
    by it a heat is taken up again after a crash.
    """

    format: str
    started: str
    id: str = ""
    title: str = ""
    note: str = ""
    schedule: dict[str, object] | None = None
    crucible: str = ""
    metal: str = ""
    thermocouple: str = ""
    board: dict[str, object] = {}
    parameters: dict[str, object] = {}
    boot: str = ""
    zero_s: float = 0.0
    software: str = ""
    rehearsal: bool = False


class End(Struct, frozen=True, tag_field="kind", tag="end", omit_defaults=True):
    """The last line of a heat that was closed."""

    time_s: float
    reason: str = ""


Line = Header | Reading | Command | Notice | ClockMark | Event | End

_encoder = msgspec.json.Encoder()
_decoder: msgspec.json.Decoder[Line] = msgspec.json.Decoder(Line)
# What the decoder raises on bytes that are none of ours: bad UTF-8 and a thousand brackets among them.
_UNREADABLE = (msgspec.DecodeError, UnicodeDecodeError, RecursionError)


def encode_line(line: Line, seq: int | None = None) -> bytes:
    """Give a line's one JSON form, newline included; the sequence number stands first where there is one."""
    body = _encoder.encode(line)
    return body + b"\n" if seq is None else b'{"seq":%d,%b\n' % (seq, body[1:])


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
        if len(encode_line(header, 0)) > _LONGEST_HEADER:
            raise RecordError(f"{path}: the schedule is too long for a record's header; shorten what its segments say")
        writer = cls(path, _hold(path, _create(path)), next_seq=0)
        writer._append(header)
        writer.sync()
        _sync_folder(path.parent)
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


@dataclass(slots=True)
class ReadingTally:
    """What a reader met besides good lines."""

    foreign_lines: int = 0
    torn: bool = False


class RecordReader:
    """Reads a record, plain or gzipped, tolerating a torn last line and foreign ones; `tally` counts them.

    It closes itself after the last line; who may stop before that uses it in a `with`.
    """

    def __init__(self, path: Path) -> None:
        """Open and read the header; raises `RecordError` when this is no heat record."""
        self.path = path
        self.tally = ReadingTally()
        try:
            self._file = _open(path)
        except OSError as error:
            raise RecordError(f"{path}: cannot read: {_reason(error)}") from error
        try:
            self.header = self._header(self._file.readline(_LONGEST_HEADER + 1))
        except (OSError, EOFError, zlib.error) as error:
            self.close()
            raise RecordError(f"{path}: cannot read: {_reason(error)}") from error
        except RecordError:
            self.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file, wherever reading stands."""
        self._file.close()

    def __iter__(self) -> Iterator[Line]:
        """Give the lines after the header, in order."""
        decode, readline = _decoder.decode, self._file.readline
        try:
            while line := readline(_LONGEST_LINE + 1):
                try:
                    item = decode(line)
                except _UNREADABLE:
                    self._count_bad(line)
                else:
                    yield item
        except EOFError:
            # A gzip cut off in the middle is a torn record: what came before it is still good.
            self.tally.torn = True
        except (OSError, zlib.error) as error:
            raise RecordError(f"{self.path}: reading failed: {_reason(error)}") from error
        finally:
            self.close()

    def _header(self, first: bytes) -> Header:
        try:
            header = _decoder.decode(first)
        except _UNREADABLE:
            header = None
        if not isinstance(header, Header):
            raise RecordError(f"{self.path}: no heat record: its first line is no header of format {FORMAT}")
        if header.format != FORMAT:
            raise RecordError(f"{self.path}: format {header.format!r}; this version reads {FORMAT}")
        return header

    def _count_bad(self, line: bytes) -> None:
        if line.endswith(b"\n"):
            if line.strip():
                self.tally.foreign_lines += 1
            return
        if len(line) <= _LONGEST_LINE:
            self.tally.torn = True
            return
        self.tally.foreign_lines += 1
        while line and not line.endswith(b"\n"):
            line = self._file.readline(_LONGEST_LINE + 1)


class _Gunzip(gzip.GzipFile):
    """Gives what there is: the usual one fills its buffer first, and so loses all of it where the file is cut off."""

    def readinto(self, buffer: "WriteableBuffer") -> int:
        view = memoryview(buffer)
        data = self.read1(len(view))
        view[: len(data)] = data
        return len(data)


def _open(path: Path) -> BufferedReader:
    with contextlib.ExitStack() as closing_on_failure:
        plain = closing_on_failure.enter_context(path.open("rb"))
        if plain.peek(2)[:2] != b"\x1f\x8b":
            closing_on_failure.pop_all()
            return plain
    # A BufferedReader over the gzip stream: the stream's own readline is in Python and ten times slower.
    return BufferedReader(_Gunzip(path, "rb"), 1 << 16)


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


def _reason(error: Exception) -> str:
    """Give the system's own words where there are any; damage to a gzip comes without."""
    return getattr(error, "strerror", None) or str(error)


def _sync_folder(folder: Path) -> None:
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
