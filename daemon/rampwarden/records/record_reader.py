"""The heat record's reader: plain or gzipped, tolerating a torn end and lines that are none of ours.

Everything in a record is taken as hostile: lines are bounded, and what cannot be read is counted and skipped.
"""

import contextlib
import gzip
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from rampwarden.errors import UNREADABLE_JSON, RecordError
from rampwarden.records.header_pieces import pieced_header
from rampwarden.records.record_lines import FORMAT, LONGEST_HEADER, LONGEST_LINE, MOST_S, Header, Line, decoder

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

# What the decoder raises on bytes that are none of ours: bad UTF-8 and a thousand brackets among them.
_NUMBER = b'{"seq":'
# A heat of four months has no more lines; a number beyond is a damaged one.
_MOST_MISSING = 100_000_000


@dataclass(slots=True)
class ReadingTally:
    """What a reader met besides good lines."""

    foreign_lines: int = 0
    torn: bool = False
    missing_lines: int = 0
    """Lines that are not there at all, by the numbers of those around them; counted in a damaged record only."""


class _MissingLines:
    """Counts numbers that are passed over: a line that cannot be read has had one, and is counted as such."""

    def __init__(self, tally: ReadingTally) -> None:
        self._tally = tally
        self._last = 0
        self._foreign = 0

    def note(self, line: bytes) -> None:
        """Look at a line's number, before it is read."""
        if not line.startswith(_NUMBER):
            return
        digits, comma, _ = line[len(_NUMBER) : len(_NUMBER) + 20].partition(b",")
        if not comma or not digits.isdigit():
            return
        number, foreign = int(digits), self._tally.foreign_lines
        passed = number - self._last - 1 - (foreign - self._foreign)
        if 0 < passed < _MOST_MISSING:
            self._tally.missing_lines += passed
        self._last = max(self._last, number)
        self._foreign = foreign


def packed_path(path: Path) -> Path:
    """Give where a record lies once it is packed."""
    return path.with_name(f"{path.name}.gz")


class RecordReader:
    """Reads a record, plain or gzipped, tolerating a torn last line and foreign ones; `tally` counts them.

    It closes itself after the last line; who may stop before that uses it in a `with`. A line dated further from the
    heat's beginning than any heat lasts counts as foreign: a damaged figure must not make years of a watch.
    """

    def __init__(self, path: Path, *, may_be_damaged: bool = False) -> None:
        """Open and read the header; raises `RecordError` when this is no heat record.

        With `may_be_damaged` the header is pieced together where it is no line any more (`has_whole_header` tells), and
        only a file that cannot be read is refused.
        """
        self.path = path
        self.tally = ReadingTally()
        self.has_whole_header = True
        self._counts_missing = may_be_damaged
        self._missing = _MissingLines(self.tally)
        try:
            self._file = path.open("rb") if may_be_damaged else _open(path)
        except OSError as error:
            raise RecordError(f"{path}: cannot read: {_reason(error)}") from error
        try:
            self.header = self._header(self._file.readline(LONGEST_HEADER + 1), may_be_damaged=may_be_damaged)
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
        decode, readline = decoder.decode, self._file.readline
        missing = self._missing if self._counts_missing else None
        try:
            while line := readline(LONGEST_LINE + 1):
                if missing is not None:
                    missing.note(line)
                try:
                    item = decode(line)
                except UNREADABLE_JSON:
                    self._count_bad(line)
                else:
                    if isinstance(item, Header) or -MOST_S < item.time_s < MOST_S:
                        yield item
                    else:
                        self._count_bad(line)
        except EOFError:
            # A gzip cut off in the middle is a torn record: what came before it is still good.
            self.tally.torn = True
        except (OSError, zlib.error) as error:
            raise RecordError(f"{self.path}: reading failed: {_reason(error)}") from error
        finally:
            self.close()

    def _header(self, first: bytes, *, may_be_damaged: bool) -> Header:
        try:
            header = decoder.decode(first)
        except UNREADABLE_JSON:
            header = None
        if may_be_damaged and not (isinstance(header, Header) and header.format == FORMAT):
            self.has_whole_header = False
            return pieced_header(first)
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
        if len(line) <= LONGEST_LINE:
            self.tally.torn = True
            return
        self.tally.foreign_lines += 1
        while line and not line.endswith(b"\n"):
            line = self._file.readline(LONGEST_LINE + 1)


class _Gunzip(gzip.GzipFile):
    """Gives what there is: the usual one fills its buffer first, and so loses all of it where the file is cut off."""

    def readinto(self, buffer: "WriteableBuffer") -> int:
        view = memoryview(buffer)
        data = self.read1(len(view))
        view[: len(data)] = data
        return len(data)


def _open(path: Path) -> BufferedReader:
    """Open a record; where it has been packed since somebody noted its name, the packed one."""
    if not path.exists() and packed_path(path).exists():
        path = packed_path(path)
    with contextlib.ExitStack() as closing_on_failure:
        plain = closing_on_failure.enter_context(path.open("rb"))
        if plain.peek(2)[:2] != b"\x1f\x8b":
            closing_on_failure.pop_all()
            return plain
    # A BufferedReader over the gzip stream: the stream's own readline is in Python and ten times slower.
    return BufferedReader(_Gunzip(path, "rb"), 1 << 16)


def _reason(error: Exception) -> str:
    """Give the system's own words where there are any; damage to a gzip comes without."""
    return getattr(error, "strerror", None) or str(error)
