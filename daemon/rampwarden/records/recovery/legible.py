"""What of a damaged record can be read and believed: its last lines, however much rubbish follows them, and its times.

A line that can be decoded may still be wrong: one flipped bit in a figure dates it years ahead, and every later reading
would be an old one. The clock of a watch never runs back, so the lines that follow contradict such a date.
"""

import itertools
import re
from collections import deque
from collections.abc import Iterable, Iterator
from pathlib import Path

from rampwarden.core.model import ClockMark, Event
from rampwarden.errors import RecordError
from rampwarden.records.record_lines import LONGEST_LINE, Header, Line

# Two of the longest lines: whatever is searched for lies whole in one of two pieces that overlap by one.
_PIECE = 2 * LONGEST_LINE
_NUMBERED = re.compile(rb'^\{"seq":(\d{1,18}),"kind":".*\}$', re.MULTILINE)
_DATED = re.compile(rb'^\{"seq":\d{1,18},"kind":"[a-z]{1,20}","time_s":(\d{1,12}(?:\.\d{1,9})?)[,}]', re.MULTILINE)
_ENDED = re.compile(rb'^\{"seq":\d{1,18},"kind":"end",.*\}$', re.MULTILINE)
# How far ahead it is looked for lines that contradict a date, and how many of them are asked.
_AHEAD = 16
_ASKED = 5
# Beyond what rounding and a queue can make of the order of lines, seconds.
_OUT_OF_ORDER_S = 5.0
# A last line has none after it. Where no clock tells either, silence of a day is still believed.
_LAST_LEAP_S = 86_400.0


class LegibleTail:
    """The last stretch of a record in which whole lines stand; what lies behind it is rubbish.

    Raises `RecordError` when the file cannot be read.
    """

    def __init__(self, path: Path) -> None:
        try:
            self._data = _last_legible(path)
        except OSError as error:
            raise RecordError(f"{path}: cannot read: {error.strerror}") from error

    @property
    def last_seq(self) -> int | None:
        """The last sequence number; None where no line of the record is legible."""
        numbers = _NUMBERED.findall(self._data)
        return int(numbers[-1]) if numbers else None

    @property
    def last_s(self) -> float | None:
        """The last time of a line, s since the heat began."""
        times = _DATED.findall(self._data)
        return float(times[-1]) if times else None

    @property
    def has_ended(self) -> bool:
        """Whether the record was closed."""
        return _ENDED.search(self._data) is not None


def _last_legible(path: Path) -> bytes:
    with path.open("rb") as file:
        end = file.seek(0, 2)
        while True:
            start = max(0, end - _PIECE)
            file.seek(start)
            data = file.read(end - start)
            if not start or _NUMBERED.search(data):
                return data
            end = start + LONGEST_LINE


class BelievedLines:
    """The lines of a record without those whose time the ones after them contradict; `disbelieved` counts these.

    `present_s` is the present on the heat's clock, None where no clock can tell: no last line is later than that.
    """

    def __init__(self, lines: Iterable[Line], present_s: float | None) -> None:
        self.disbelieved = 0
        self._lines = iter(lines)
        self._present_s = present_s

    def __iter__(self) -> Iterator[Line]:
        """Give the lines in their order."""
        ahead = deque(itertools.islice(self._lines, _AHEAD))
        before_s: float | None = None
        while ahead:
            line = ahead.popleft()
            ahead.extend(itertools.islice(self._lines, 1))
            if isinstance(line, Header):
                continue
            if self._is_contradicted(line.time_s, before_s, ahead):
                self.disbelieved += 1
                continue
            before_s = line.time_s if before_s is None else max(before_s, line.time_s)
            yield line

    def _is_contradicted(self, time_s: float, before_s: float | None, ahead: deque[Line]) -> bool:
        if before_s is not None and time_s <= before_s + _OUT_OF_ORDER_S:
            return False
        asked = list(itertools.islice(_times(ahead), _ASKED))
        if not asked:
            latest_s = (before_s or 0.0) + _LAST_LEAP_S if self._present_s is None else self._present_s
            return time_s > latest_s + _OUT_OF_ORDER_S
        return 2 * sum(each_s < time_s - _OUT_OF_ORDER_S for each_s in asked) > len(asked)


def _times(lines: Iterable[Line]) -> Iterator[float]:
    """Give the times of the lines that cannot be older than what stands before them.

    An event tells of the time before the input that made it. What follows a clock mark came late, as the mark says.
    """
    is_late = False
    for line in lines:
        if isinstance(line, Header | Event):
            continue
        if not is_late:
            yield line.time_s
        is_late = isinstance(line, ClockMark)
