"""One heat record as a queue of messages: which events are still to be delivered, in order, each once at a time.

A record is read at two places. At its end, where the watch appends, so that an alarm is found the moment it is written
(`live`); and behind, from the last settled event on (`backlog`), after a restart or an outage. Where the two meet there
is only one again. What is settled out of order is remembered until everything before it is settled too, so a place on
the disk never passes over an event nobody has taken.

Knows the record's lines, and nothing of brokers or of other records.
"""

import os
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import msgspec
from msgspec import Struct

from rampwarden.core.model import Event
from rampwarden.outputs.outbox.cursor import CursorPosition

# Read in pieces, so that a long backlog of readings never keeps a live alarm waiting.
_PIECE = 1 << 18
# A longer line is none of ours; it is passed over. A header carries the whole schedule.
_LONGEST_LINE = 65_536
_LONGEST_HEADER = 1_048_576
_MARK = b'"kind":"event"'
# What decoders raise on bytes that are none of ours.
_UNREADABLE = (msgspec.DecodeError, UnicodeDecodeError, RecursionError)


class _Numbered(Struct):
    seq: int


class RecordHead(Struct):
    """What a record's first line says of it."""

    kind: str
    started: str
    id: str = ""


_event_decoder = msgspec.json.Decoder(Event)
_number_decoder = msgspec.json.Decoder(_Numbered)
_head_decoder = msgspec.json.Decoder(RecordHead)


@dataclass(frozen=True, slots=True)
class OutboxItem:
    """An event to be delivered. `told_s` is when the watch told it (monotonic seconds), None for history.

    `seq` is None for an event that is not in the record because the disk would not take it.
    """

    record_id: str
    seq: int | None
    key: str
    started: datetime
    event: Event
    told_s: float | None


def read_head(path: Path) -> RecordHead | None:
    """Give what the first line says; None when there is no such record."""
    try:
        with path.open("rb") as file:
            head = _head_decoder.decode(file.readline(_LONGEST_HEADER))
        datetime.fromisoformat(head.started)
    except (OSError, ValueError, *_UNREADABLE):
        return None
    return head if head.kind == "header" else None


class _Lines:
    """Whole lines of a growing file from a byte offset on; a line still being written waits."""

    def __init__(self, descriptor: int, offset: int) -> None:
        self._descriptor = descriptor
        self.offset = offset

    def read(self, until: int | None = None) -> Iterator[tuple[int, bytes]]:
        """Give the next piece's lines, each with the offset after it, up to `until`; nothing when there are none."""
        size = _PIECE if until is None else min(_PIECE, until - self.offset)
        piece = os.pread(self._descriptor, size, self.offset) if size > 0 else b""
        end = piece.rfind(b"\n") + 1
        if not end and len(piece) > _LONGEST_LINE:
            self.offset += len(piece)
        for line in piece[:end].splitlines(keepends=True):
            self.offset += len(line)
            yield self.offset, line


class RecordQueue:
    """The undelivered events of one record. `growing` is the record of the heat that is running."""

    def __init__(self, path: Path, place: CursorPosition, started: datetime, *, growing: bool) -> None:
        """Open the record; raises `OSError` when it cannot be."""
        self.place = place
        self._started = started
        self._descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
        size = os.fstat(self._descriptor).st_size
        if place.offset > size:
            # A power cut can take back what was not synced; the sequence number still tells what is settled.
            place.offset = 0
        self._behind = _Lines(self._descriptor, place.offset)
        self._end = _Lines(self._descriptor, self._last_whole(size)) if growing else None
        self._at_end = False
        # Events passed on the way behind, oldest first, as (seq, offset after it), until everything before is settled.
        self._passed: deque[tuple[int, int]] = deque()
        self._settled = set(place.also)
        self._out: set[int] = set()
        self._live_since: dict[int, float] = {}
        self._unreadable = 0
        # Met from behind and at the end, or once more after an outage, a line is counted once.
        self._rotten: set[int] = set()

    @property
    def caught_up(self) -> bool:
        """Whether nothing lies behind: what comes next comes at the end."""
        return self._end is not None and self._behind.offset >= self._end.offset

    @property
    def all_given(self) -> bool:
        """Whether nothing is left behind that has not been given out."""
        return self._at_end if self._end is None else self.caught_up

    @property
    def finished(self) -> bool:
        """Whether a record that no longer grows is settled to its end."""
        return self._end is None and self._at_end and not self._passed

    def live(self, now_s: float, fresh_s: float) -> list[OutboxItem]:
        """Give the events appended since the last call; for `fresh_s` it is remembered when they were told."""
        end = self._end
        if end is None:
            return []
        self._live_since = {seq: at_s for seq, at_s in self._live_since.items() if now_s - at_s <= fresh_s}
        items: list[OutboxItem] = []
        while True:
            level = self.caught_up
            before = end.offset
            for offset, line in end.read():
                event = self._event(line, offset)
                if event is None:
                    continue
                seq, told = event
                if level:
                    self._passed.append((seq, offset))
                if seq > self.place.seq and seq not in self._settled:
                    self._out.add(seq)
                    self._live_since[seq] = now_s
                    items.append(self._item(seq, told, now_s))
            if level:
                self._behind.offset = end.offset
            if end.offset == before:
                break
        self._advance()
        return items

    def backlog(self) -> list[OutboxItem]:
        """Give the events of the next piece behind."""
        before = self._behind.offset
        items: list[OutboxItem] = []
        for offset, line in self._behind.read(None if self._end is None else self._end.offset):
            event = self._event(line, offset)
            if event is None:
                continue
            seq, told = event
            if seq <= self.place.seq:
                continue
            self._passed.append((seq, offset))
            if seq not in self._settled and seq not in self._out:
                self._out.add(seq)
                items.append(self._item(seq, told, self._live_since.get(seq)))
        self._at_end = self._behind.offset == before
        self._advance()
        return items

    def settle(self, seq: int) -> None:
        """Note that an event needs no more sending."""
        self._out.discard(seq)
        self._settled.add(seq)
        self._advance()

    def give_back(self, seq: int) -> None:
        """Note that an event was not taken after all: it comes again, from behind."""
        self._out.discard(seq)
        self._behind.offset = self.place.offset
        self._passed.clear()
        self._at_end = False

    def is_history(self, seq: int) -> None:
        """Note that an event found at the end was told long ago: when it comes again, it is no news either."""
        self._live_since.pop(seq, None)

    def take_unreadable(self) -> int:
        """Give how many lines that may have been events could not be read since this was asked last."""
        count, self._unreadable = self._unreadable, 0
        return count

    def close(self) -> None:
        """Let go of the file."""
        os.close(self._descriptor)

    def _last_whole(self, size: int) -> int:
        """Give the offset after the last whole line: what a power cut left half written is nobody's event."""
        start = max(0, size - _LONGEST_LINE)
        return start + os.pread(self._descriptor, size - start, start).rfind(b"\n") + 1

    def _event(self, line: bytes, offset: int) -> tuple[int, Event] | None:
        """Give an event with its number; what can be read no more costs itself alone, and is counted."""
        if _MARK not in line:
            return None
        try:
            return _number_decoder.decode(line).seq, _event_decoder.decode(line)
        except _UNREADABLE:
            if offset not in self._rotten:
                self._rotten.add(offset)
                self._unreadable += 1
            return None

    def _item(self, seq: int, event: Event, told_s: float | None) -> OutboxItem:
        return OutboxItem(self.place.id, seq, f"{self.place.id}:{seq}", self._started, event, told_s)

    def _advance(self) -> None:
        place = self.place
        while self._passed and self._passed[0][0] in self._settled:
            place.seq, place.offset = self._passed.popleft()
            self._settled.discard(place.seq)
        if not self._passed:
            place.offset = self._behind.offset
        place.also = sorted(self._settled)
