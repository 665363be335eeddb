"""Log lines on their way out: a worker writes them, so that whoever reads them can stop reading and stall nobody.

Policy: a terminal held with Ctrl-S, a dead remote session or a full disk behind standard output must not hold up the
watch. Lines wait here, bounded; when they are too many the oldest go, and how many is said once lines get through
again. The heat record has every event regardless.
"""

import os
import threading
import time
from collections import deque

# A status line a minute and a burst of alarms with every change of state: hours of a terminal that does not read.
_MOST_WAITING = 1000
# A descriptor that somebody else has made non-blocking is tried again after this long.
_FULL_WAIT_S = 0.05
_CLOSE_S = 1.0


class LogLines:
    """Writes lines to file descriptor `descriptor`, which stays open. `info` and its like are structlog's names."""

    def __init__(self, descriptor: int, encoding: str = "utf-8") -> None:
        self._descriptor = descriptor
        self._encoding = encoding
        self._waiting: deque[bytes] = deque()
        self._dropped = 0
        self._closing = False
        self._changed = threading.Condition()
        self._worker = threading.Thread(target=self._work, name="log lines", daemon=True)
        self._worker.start()

    @property
    def on_terminal(self) -> bool:
        """Whether a person may be reading."""
        return os.isatty(self._descriptor)

    @property
    def columns(self) -> int:
        """How wide the terminal is now; 0 where there is none, or where it does not say."""
        try:
            return os.get_terminal_size(self._descriptor).columns
        except OSError:
            return 0

    def info(self, line: str) -> None:
        """Put a line in the queue; returns at once and never raises."""
        with self._changed:
            if len(self._waiting) >= _MOST_WAITING:
                self._waiting.popleft()
                self._dropped += 1
            self._waiting.append(f"{line}\n".encode(self._encoding, errors="backslashreplace"))
            self._changed.notify()

    debug = warning = error = critical = exception = info

    def close(self) -> None:
        """Write what waits and end; a worker stuck on its terminal is left behind, it holds nothing."""
        with self._changed:
            self._closing = True
            self._changed.notify()
        self._worker.join(_CLOSE_S)

    def _work(self) -> None:
        while True:
            with self._changed:
                while not self._waiting:
                    if self._closing:
                        return
                    self._changed.wait()
                line, dropped = self._waiting.popleft(), self._dropped
            if not self._write(line):
                with self._changed:
                    self._dropped += 1
            elif dropped and self._write(f"{dropped} log lines could not be written here\n".encode()):
                with self._changed:
                    self._dropped -= dropped

    def _write(self, data: bytes) -> bool:
        try:
            while data:
                try:
                    data = data[os.write(self._descriptor, data) :]
                except BlockingIOError:
                    if self._closing:
                        return False
                    time.sleep(_FULL_WAIT_S)
        except OSError:
            # Nobody reads any more, or the disk is full: the next line may fare better.
            return False
        return True
