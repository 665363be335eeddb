"""What a record should hold, kept in memory: compressed, bounded, and the only thing that can mend a record cut short.

A handle outlives a name, but not a truncation. Ten readings a second for a day are some 12 MB here. Beyond the bound
the oldest goes, never the header; what then is missing from a mended record is said in it. Not safe for threads.
"""

import re
import zlib
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rampwarden.core.model import Notice, NoticeName
from rampwarden.core.quantities import format_duration
from rampwarden.records.record_lines import encode_line

_BLOCK = 1 << 16
_MOST_KEPT = 24 << 20
# A header may be a megabyte long; what has no newline for longer is no line of ours.
_LONGEST_OPEN = 4 << 20
_LINE = re.compile(rb'^\{"seq":(\d{1,18}),"kind":"[a-z]{1,20}"(?:,"time_s":(\d{1,12}(?:\.\d{1,9})?))?[,}]')


@dataclass(frozen=True, slots=True)
class Gap:
    """Lines that are gone for good: their numbers, and the heat's seconds they were of."""

    first: int
    last: int
    from_s: float
    to_s: float

    @property
    def words(self) -> str:
        """What is missing, for people."""
        count = self.last - self.first + 1
        return (
            f"{count} lines from {format_duration(self.from_s)} to {format_duration(self.to_s)} of the heat are missing"
        )

    def line(self) -> bytes:
        """Give the line that stands for them: to a replay it is a time in which nobody watched."""
        notice = Notice(
            self.to_s, NoticeName.WATCH_RESUMED, self.last - self.first + 1, f"{self.words}: it was cut short"
        )
        return encode_line(notice, self.last)


class Journal:
    """Bytes of one file, oldest first. What has been let go lies behind the first block, from `_forgotten` bytes on."""

    def __init__(self) -> None:
        self._first = b""
        self._blocks: deque[bytes] = deque()
        self._open = bytearray()
        self._kept = 0
        self._forgotten = 0

    def add(self, data: bytes) -> None:
        """Take note of bytes that were written behind all others."""
        self._open += data
        while len(self._open) >= _BLOCK:
            # Blocks end with a line, or what is left after one has gone would begin in the middle of one.
            end = self._open.rfind(b"\n") + 1 or len(self._open) // _LONGEST_OPEN * _LONGEST_OPEN
            if not end:
                return
            block = zlib.compress(self._open[:end], 1)
            del self._open[:end]
            if not self._first:
                self._first = block
                continue
            self._blocks.append(block)
            self._kept += len(block)
            while self._kept > _MOST_KEPT:
                gone = self._blocks.popleft()
                self._kept -= len(gone)
                self._forgotten += len(zlib.decompress(gone))

    def whole(self, survived: Iterable[bytes]) -> tuple[Iterator[bytes], Gap | None]:
        """Give the file's content in pieces, and what of it is missing.

        `survived` is what the file still holds of it, and makes up for what memory has let go.
        """
        first = zlib.decompress(self._first) if self._first else b""
        held = b"".join(survived) if self._forgotten else b""
        between = held[len(first) : len(first) + self._forgotten]
        gap = None
        if len(between) < self._forgotten:
            between = between[: between.rfind(b"\n") + 1]
            after = zlib.decompress(self._blocks[0]) if self._blocks else bytes(self._open)
            gap = _gap(first + between, after)
        return self._pieces(first, between, gap), gap

    def _pieces(self, first: bytes, between: bytes, gap: Gap | None) -> Iterator[bytes]:
        yield first
        yield between
        if gap is not None:
            yield gap.line()
        for block in self._blocks:
            yield zlib.decompress(block)
        yield bytes(self._open)


def _gap(before: bytes, after: bytes) -> Gap:
    first, from_s = next(filter(None, map(_place, reversed(before.splitlines()))), (0, 0.0))
    last, to_s = next(filter(None, map(_place, after.splitlines())), (first + 1, from_s))
    return Gap(first + 1, last - 1, from_s, to_s)


def _place(line: bytes) -> tuple[int, float] | None:
    """Give a line's number and second, a header's being the first; None of what is no line of ours."""
    found = _LINE.match(line)
    return None if found is None else (int(found[1]), float(found[2] or 0.0))
