"""Lines that wait for the disk: in order, bounded, and what is let go when there are too many.

Policy: readings and clock marks may be let go, the oldest first, and are counted; all else is kept, since it is rare
and a replay without it would tell another story. Of a line that is half in the file the rest is never let go: without
it the next line would be spoilt as well. Not safe for threads: whoever shares it holds a lock.
"""

from collections import deque

# At most this many lines a call: one write stays well under a pipe's or disk block's worth of patience.
_LINES_A_BLOCK = 256
# What may be let go. A reading's own words cannot contain this: quotes inside a text are escaped.
_EXPENDABLE = (b'"kind":"reading"', b'"kind":"clock"')


class WaitingLines:
    """Numbered lines on their way into a file; a block is taken, written, and what was not written given back."""

    def __init__(self) -> None:
        self._lines: deque[tuple[int, bytes]] = deque()
        self._block: list[tuple[int, bytes]] = []
        self._torn = False

    def __len__(self) -> int:
        """How many are not in the file, those just being written included."""
        return len(self._lines) + len(self._block)

    def put(self, number: int, line: bytes) -> None:
        """Put a line last."""
        self._lines.append((number, line))

    def take(self) -> bytes:
        """Give the bytes to write next, nothing when there are none; they count as waiting until `note_written`."""
        while self._lines and len(self._block) < _LINES_A_BLOCK:
            self._block.append(self._lines.popleft())
        return b"".join(line for _, line in self._block)

    def note_written(self, count: int) -> int | None:
        """Note how many bytes of the block were taken; gives the number of the last line now whole in the file."""
        last = None
        left: list[tuple[int, bytes]] = []
        for number, line in self._block:
            if count >= len(line):
                count -= len(line)
                last = number
                self._torn = False
                continue
            if count:
                self._torn = True
            left.append((number, line[count:]))
            count = 0
        self._block = []
        self._lines.extendleft(reversed(left))
        return last

    def let_go(self) -> bool:
        """Let the oldest line go that may be; gives whether there was one."""
        for index, (_, line) in enumerate(self._lines):
            if any(kind in line for kind in _EXPENDABLE) and not (index == 0 and self._torn):
                del self._lines[index]
                return True
        return False

    def clear(self) -> None:
        """Forget them all."""
        self._lines.clear()
        self._block = []
