"""One heat record as a queue of messages: which events are still to be delivered, in order, each once at a time.

What the watch tells goes out at once (`tell`), whether the disk has it or not. Everything else is read from the record,
from the last settled event on (`backlog`): after a restart, after an outage, and behind what was told, so as to know
where in the file it stands. Told events are kept in memory until they are found there, and no longer. What is settled
out of order is remembered until everything before it is settled too, so a place on the disk never passes over an event
nobody has taken; nor does it tell of a line that the disk may yet lose, whose number would then mean another event.

Knows the record's lines, and nothing of brokers or of other records.
"""

import dataclasses
import math
import os
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Protocol

import msgspec
from msgspec import Meta, Struct

from rampwarden.core.model import Event
from rampwarden.errors import UNREADABLE_JSON
from rampwarden.filed import Filed, event_key
from rampwarden.outputs.outbox.cursor import CursorPosition

# Read in pieces, so that a long backlog of readings never keeps a live alarm waiting.
_PIECE = 1 << 18
# A longer line is none of ours; it is passed over. A header carries the whole schedule.
_LONGEST_LINE = 65_536
_LONGEST_HEADER = 1_048_576
_MARK = b'"kind":"event"'
# While the disk has owed an answer for this long its files are left alone: reading one might have to wait for it.
_PATIENCE_S = 0.1


class _Numbered(Struct):
    seq: int
    run: Annotated[str, Meta(max_length=16, pattern="^[0-9a-z]*$")] = ""
    named: Annotated[int, Meta(ge=0)] = 0

    @property
    def key_number(self) -> int:
        return self.named or self.seq


class RecordHead(Struct):
    """What a record's first line says of it; up to line `carried` it repeats another, from which that is sent."""

    kind: str
    started: str
    id: str = ""
    carried: int = 0


_event_decoder = msgspec.json.Decoder(Event)
_number_decoder = msgspec.json.Decoder(_Numbered)
_head_decoder = msgspec.json.Decoder(RecordHead)


@dataclass(frozen=True, slots=True)
class OutboxItem:
    """An event to be delivered, and its line `seq`. `told_s` is when the watch told it (monotonic s), None for history.

    `on_disk` tells whether the record had it then: what is read from the record always is.
    """

    record_id: str
    seq: int
    key: str
    started: datetime
    event: Event
    told_s: float | None
    on_disk: bool = True


class Disk(Protocol):
    """What the queue of the running record must know of its writer."""

    @property
    def synced(self) -> int:
        """The number of the last line that the disk is known to have."""

    def is_answering(self, within_s: float) -> bool:
        """Tell whether the disk owes no answer, or has not owed it for this long."""


def read_head(path: Path) -> RecordHead | None:
    """Give what the first line says; None when there is no such record."""
    try:
        with path.open("rb") as file:
            head = _head_decoder.decode(file.readline(_LONGEST_HEADER))
        datetime.fromisoformat(head.started)
    except (OSError, ValueError, *UNREADABLE_JSON):
        return None
    return head if head.kind == "header" else None


class _Lines:
    """Whole lines of a file from a byte offset on; a line still being written waits."""

    def __init__(self, path: Path, offset: int) -> None:
        self.offset = offset
        self._path = path
        self._descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)

    @property
    def size(self) -> int:
        """How many bytes there are."""
        return os.fstat(self._descriptor).st_size

    def read(self) -> Iterator[tuple[int, bytes]]:
        """Give the next piece's lines, each with the offset after it; nothing when there are none.

        The offset moves on with each line that is asked for.
        """
        piece = os.pread(self._descriptor, _PIECE, self.offset)
        end = piece.rfind(b"\n") + 1
        if not end and len(piece) > _LONGEST_LINE:
            self.offset += len(piece)
        after = self.offset
        for line in piece[:end].splitlines(keepends=True):
            after += len(line)
            yield after, line
            self.offset = after

    def begin_again_elsewhere(self) -> bool:
        """Begin again if another file has the name now; gives whether it has: a record may have been put back."""
        try:
            named, held = self._path.stat(), os.fstat(self._descriptor)
            if (named.st_dev, named.st_ino) == (held.st_dev, held.st_ino):
                return False
            descriptor = os.open(self._path, os.O_RDONLY | os.O_CLOEXEC)
        except OSError:
            return False
        os.close(self._descriptor)
        self._descriptor, self.offset = descriptor, 0
        return True

    def close(self) -> None:
        """Let go of the file."""
        os.close(self._descriptor)


class RecordQueue:
    """The undelivered events of one record.

    `told` is there for the record of the heat that is running: the number of the newest event told so far. Lines behind
    it are not looked at, they will be told.
    """

    def __init__(
        self, path: Path, place: CursorPosition, started: datetime, disk: Disk, told: int | None = None
    ) -> None:
        """Open the record; raises `OSError` when it cannot be."""
        self.place = place
        self._started = started
        self._disk = disk
        self._grows = told is not None
        self._newest_told = told or 0
        self._lines = _Lines(path, place.offset)
        if place.offset > self._lines.size:
            # What was cut off is gone; the sequence number still tells what is settled.
            self._lines.offset = place.offset = 0
        self._level = False
        # Events passed on the way, oldest first, as (seq, offset after it), until everything before is settled.
        self._passed: deque[tuple[int, int]] = deque()
        self._settled = set(place.also)
        self._out: set[int] = set()
        # What was told and has not been found in the file yet.
        self._tail: dict[int, OutboxItem] = {}
        self._unreadable = 0
        # Met once more after an outage, a line is counted once.
        self._rotten: set[int] = set()
        self._told_s: dict[int, float] = {}

    @property
    def all_given(self) -> bool:
        """Whether nothing is left that could be given now."""
        return (self._level or not self._is_readable) and not any(self._is_due(seq) for seq in self._tail)

    @property
    def waiting(self) -> int:
        """How many events are known that need sending yet; what lies behind the place it has read to is not counted."""
        known = {seq for seq, _ in self._passed} | self._tail.keys()
        return len(known - self._settled)

    @property
    def finished(self) -> bool:
        """Whether a record that no longer grows is settled to its end."""
        return not self._grows and self._level and not self._passed

    def tell(self, event: Event, filed: Filed, told_s: float) -> OutboxItem:
        """Take an event that the watch has just told, and give it out."""
        item = self.note_told(event, filed, told_s)
        self._out.add(filed.number)
        return item

    def note_told(self, event: Event, filed: Filed, told_s: float) -> OutboxItem:
        """Take an event that was told before; it comes with the backlog."""
        self._newest_told = max(self._newest_told, filed.number)
        named = _Numbered(filed.number, filed.run, filed.named)
        item = self._item(named, event, told_s, on_disk=filed.on_disk)
        self._tail[filed.number] = item
        self._told_s[filed.number] = told_s
        return item

    def forget_news(self, now_s: float, fresh_s: float) -> None:
        """Remember no longer when an event was told, once that is more than `fresh_s` ago: it is history then."""
        self._told_s = {seq: at_s for seq, at_s in self._told_s.items() if now_s - at_s <= fresh_s}

    def follow(self) -> bool:
        """Read on behind what was told, where nothing else is left to read; gives whether the place has moved on."""
        settled = self.place.seq
        for seq in [seq for seq in self._tail if self._is_due(seq) and seq <= self._last_on_disk]:
            # The record has it at last, and gives it when it is read.
            del self._tail[seq]
        if self._level and self._is_readable:
            for item in self._read():
                # To be given with the backlog, in its turn.
                self.give_back(item.seq)
        return self.place.seq != settled

    def backlog(self) -> list[OutboxItem]:
        """Give the events of the next piece, and at the end those that only memory has."""
        if self._is_readable and not self._level:
            return self._read()
        due = [self._tail[seq] for seq in sorted(self._tail) if self._is_due(seq)]
        items = [dataclasses.replace(item, told_s=self._told_s.get(item.seq)) for item in due]
        self._out.update(item.seq for item in items)
        return items

    def settle(self, seq: int) -> None:
        """Note that an event needs no more sending."""
        self._out.discard(seq)
        self._settled.add(seq)
        self._advance()

    def give_back(self, seq: int) -> None:
        """Note that an event was not taken after all: it comes again with the backlog."""
        self._out.discard(seq)
        if seq in self._tail:
            return
        if any(passed == seq for passed, _ in self._passed):
            self._lines.offset = self.place.offset
            self._passed.clear()
            self._level = False

    def take_unreadable(self) -> int:
        """Give how many lines that may have been events could not be read since this was asked last."""
        count, self._unreadable = self._unreadable, 0
        return count

    def close(self) -> None:
        """Let go of the file."""
        self._lines.close()

    @property
    def _last_on_disk(self) -> int | float:
        return self._disk.synced if self._grows else math.inf

    @property
    def _is_readable(self) -> bool:
        return self._disk.is_answering(_PATIENCE_S)

    def _is_due(self, seq: int) -> bool:
        return seq not in self._out and seq not in self._settled

    def _read(self) -> list[OutboxItem]:
        """Give what is to be delivered of the next piece; `level` once there is no more of it."""
        if self._grows and self._lines.begin_again_elsewhere():
            self._passed.clear()
            self.place.offset = 0
        before = self._lines.offset
        items: list[OutboxItem] = []
        for offset, line in self._lines.read():
            found = self._event(line, offset)
            if found is None:
                continue
            named, event = found
            seq = named.seq
            if self._grows and seq > min(self._newest_told, self._last_on_disk):
                break
            self._tail.pop(seq, None)
            if seq <= self.place.seq:
                continue
            self._passed.append((seq, offset))
            if self._is_due(seq):
                self._out.add(seq)
                items.append(self._item(named, event, self._told_s.get(seq), on_disk=True))
        self._level = self._level or self._lines.offset == before
        self._advance()
        return items

    def _event(self, line: bytes, offset: int) -> tuple[_Numbered, Event] | None:
        """Give an event with its number and run; what can be read no more costs itself alone, and is counted."""
        if _MARK not in line:
            return None
        try:
            return _number_decoder.decode(line), _event_decoder.decode(line)
        except UNREADABLE_JSON:
            if offset not in self._rotten:
                self._rotten.add(offset)
                self._unreadable += 1
            return None

    def _item(self, named: _Numbered, event: Event, told_s: float | None, *, on_disk: bool) -> OutboxItem:
        key = event_key(self.place.id, named.run, named.key_number)
        return OutboxItem(self.place.id, named.seq, key, self._started, event, told_s, on_disk)

    def _advance(self) -> None:
        place = self.place
        while self._passed and self._passed[0][0] in self._settled:
            place.seq, place.offset = self._passed.popleft()
            self._settled.discard(place.seq)
        if not self._passed:
            place.offset = self._lines.offset
        # What the disk has not got it may never get, and then its number will be another event's.
        place.also = sorted(seq for seq in self._settled if seq <= self._last_on_disk)
