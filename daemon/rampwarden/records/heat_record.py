"""The heat record: one JSON object a line, appended while the heat runs and never rewritten.

Owns the file format and its durability. Inputs stand in it raw, so that a replay measures again; events stand beside
them, synced to the disk before anything else hears of them. Every line has a sequence number, which is what other
outputs point at. What cannot be written for lack of space waits here, bounded, and the watch goes on.
"""

import gzip
import os
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path

import msgspec
from msgspec import Struct

from rampwarden.core.model import ClockMark, Command, Event, Input, Notice, Reading
from rampwarden.errors import RecordError

FORMAT = "rampwarden-heat/1"

# A longer line is none of ours; without a bound one missing newline would cost all memory.
_LONGEST_LINE = 65_536

# Lines kept while the disk is full: at 4 readings a second and 100 bytes a line more than an hour, about 2 MB.
_MOST_WAITING = 20_000


class Header(Struct, frozen=True, tag_field="kind", tag="header", omit_defaults=True):
    """The first line. `started` is wall time (ISO 8601, UTC); `schedule` and `parameters` are what a replay needs."""

    format: str
    started: str
    id: str = ""
    title: str = ""
    note: str = ""
    schedule: dict[str, object] | None = None
    crucible: str = ""
    thermocouple: str = ""
    board: dict[str, object] = {}
    parameters: dict[str, object] = {}
    software: str = ""


class End(Struct, frozen=True, tag_field="kind", tag="end", omit_defaults=True):
    """The last line of a heat that was closed."""

    time_s: float
    reason: str = ""


Line = Header | Reading | Command | Notice | ClockMark | Event | End

_encoder = msgspec.json.Encoder()
_decoder: msgspec.json.Decoder[Line] = msgspec.json.Decoder(Line)


def encode_line(line: Line, seq: int | None = None) -> bytes:
    """Give a line's one JSON form, newline included; the sequence number stands first where there is one."""
    body = _encoder.encode(line)
    return body + b"\n" if seq is None else b'{"seq":%d,%b\n' % (seq, body[1:])


class RecordWriter:
    """Appends to one record. A full or failing disk never raises here: `trouble` says what is wrong."""

    def __init__(self, path: Path, header: Header) -> None:
        """Create the record; raises `RecordError` when the file cannot be made or is there already."""
        self.path = path
        self.trouble = ""
        self.lost_lines = 0
        self._seq = 0
        self._waiting: deque[bytes] = deque()
        self._head_is_torn = False
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | os.O_CLOEXEC, 0o640)
        except FileExistsError:
            raise RecordError(f"{path}: is there already; a record is never overwritten, choose another name") from None
        except OSError as error:
            raise RecordError(f"{path}: cannot make the heat record: {error.strerror}") from error
        self._append(header)
        self.sync()
        _sync_folder(path.parent)

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
        """Hand every waiting line to the operating system."""
        try:
            while self._waiting:
                self._write_some()
        except OSError as error:
            self.trouble = f"{self.path}: {error.strerror}"
        else:
            self.trouble = ""

    def sync(self) -> None:
        """Bring every line onto the disk."""
        self.flush()
        if not self.trouble:
            try:
                os.fdatasync(self._file)
            except OSError as error:
                self.trouble = f"{self.path}: {error.strerror}"

    def close(self) -> None:
        """Sync and close; lines that still cannot be written are counted as lost."""
        self.sync()
        self.lost_lines += len(self._waiting)
        self._waiting.clear()
        os.close(self._file)

    def _append(self, line: Line) -> None:
        if len(self._waiting) >= _MOST_WAITING:
            self._drop_oldest_reading()
        self._waiting.append(encode_line(line, self._seq))
        self._seq += 1

    def _drop_oldest_reading(self) -> None:
        """Make room: readings go before events, and the half-written first line never."""
        first = 1 if self._head_is_torn else 0
        for index in range(first, len(self._waiting)):
            if b'"kind":"event"' not in self._waiting[index]:
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
    """Reads a record, plain or gzipped, tolerating a torn last line and foreign ones; `tally` counts them."""

    def __init__(self, path: Path) -> None:
        """Open and read the header; raises `RecordError` when this is no heat record."""
        self.path = path
        self.tally = ReadingTally()
        try:
            self._file = _open(path)
            first = self._file.readline(_LONGEST_LINE + 1)
        except (OSError, EOFError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise RecordError(f"{path}: cannot read: {reason}") from error
        self.header = self._header(first)

    def __iter__(self) -> Iterator[Line]:
        """Give the lines after the header, in order."""
        decode, readline = _decoder.decode, self._file.readline
        try:
            while line := readline(_LONGEST_LINE + 1):
                try:
                    yield decode(line)
                except msgspec.DecodeError:
                    self._count_bad(line)
        except (OSError, EOFError) as error:
            # A gzip cut off in the middle is a torn record: what came before it is still good.
            if not isinstance(error, EOFError):
                raise RecordError(f"{self.path}: reading failed: {error.strerror}") from error
            self.tally.torn = True
        finally:
            self._file.close()

    def _header(self, first: bytes) -> Header:
        try:
            header = _decoder.decode(first)
        except msgspec.DecodeError:
            header = None
        if not isinstance(header, Header):
            self._file.close()
            raise RecordError(f"{self.path}: no heat record: its first line is no header of format {FORMAT}")
        if header.format != FORMAT:
            self._file.close()
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


def _open(path: Path) -> BufferedReader:
    plain = path.open("rb")
    if plain.peek(2)[:2] != b"\x1f\x8b":
        return plain
    plain.close()
    # A BufferedReader over the gzip stream: the stream's own readline is in Python and ten times slower.
    return BufferedReader(gzip.GzipFile(path, "rb"), 1 << 16)


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
