"""The queue between the board's thread and the watch: in order, bounded, and silent about nothing.

Policy, in order of preference
1. Full means that the watch is slow. The putting side waits up to PATIENCE_S: meanwhile the kernel buffers the line,
   and in a rehearsal the furnace itself waits.
2. Watch still stuck: the oldest reading goes, and is counted in `dropped`. The newest temperature is the one that
   matters when the watch comes back. Notices go only if there is nothing else.
3. Of several clock marks in a row only the last says anything, so one at the end is replaced by the next.
"""

import threading
from collections import deque

from rampwarden.core.model import ClockMark, Notice, ProbeReading, Reading

BoardInput = Reading | ProbeReading | Notice | ClockMark

# Eight minutes of a board that speaks once a second; short enough that a rehearsal's watch stays close to its furnace.
CAPACITY = 512

# Longer than any pause for writing a record to a slow card, shorter than the ten seconds that make a signal lost.
PATIENCE_S = 5.0


class InputQueue:
    """One side puts, the other takes; `close` frees both."""

    def __init__(self, capacity: int = CAPACITY, patience_s: float = PATIENCE_S) -> None:
        self.dropped = 0
        self._capacity = capacity
        self._patience_s = patience_s
        self._items: deque[BoardInput] = deque()
        self._closed = False
        lock = threading.Lock()
        self._filled = threading.Condition(lock)
        self._emptied = threading.Condition(lock)

    @property
    def has_room(self) -> bool:
        """Whether a put would neither wait nor drop."""
        return len(self._items) < self._capacity

    def put(self, item: BoardInput) -> None:
        """Add an input, waiting and dropping as the policy says. After `close` it is thrown away."""
        with self._filled:
            if isinstance(item, ClockMark) and self._items and isinstance(self._items[-1], ClockMark):
                self._items[-1] = item
                return
            if not self.has_room:
                self._wait_for_room()
            if self._closed:
                return
            self._items.append(item)
            self._filled.notify()

    def take(self, timeout_s: float) -> BoardInput | None:
        """Give the next input; None if none came within `timeout_s` real seconds or the queue is closed and empty."""
        with self._filled:
            if not self._items and not self._closed:
                self._filled.wait_for(lambda: bool(self._items) or self._closed, timeout_s)
            if not self._items:
                return None
            item = self._items.popleft()
            self._emptied.notify()
            return item

    def close(self) -> None:
        """Take no more; what is in the queue can still be taken."""
        with self._filled:
            self._closed = True
            self._filled.notify_all()
            self._emptied.notify_all()

    def _wait_for_room(self) -> None:
        if self._emptied.wait_for(lambda: self.has_room or self._closed, self._patience_s):
            return
        oldest = next((index for index, item in enumerate(self._items) if isinstance(item, Reading | ProbeReading)), 0)
        del self._items[oldest]
        self.dropped += 1
