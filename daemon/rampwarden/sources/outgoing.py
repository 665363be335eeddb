"""What is to be said to a board, until its port takes it.

Policy. Reading comes first, so nothing here ever waits: lines stand in a short queue, and each turn of the reading
thread gives the port as many bytes as it takes at once. A board that does not read fills its line; then the oldest
lines go and are counted, for a newer one says all that an older did. A line that is half out is finished first, since
a torn one would cost the next one too. What was waiting when a port is lost is thrown away with it.
"""

import threading
import time
from collections import deque
from collections.abc import Callable

from serial import Serial

from rampwarden.sources.serial_port import bytes_unsent, drop_unsent, write_port

# Two lines a second are said; more than a few seconds of them are old news.
MOST_WAITING = 8
# A farewell of forty bytes takes this long at 4800 baud. Then the port is closed whatever it still holds.
_FAREWELL_S = 0.1
_LOOK_S = 0.005


class Outgoing:
    """The queue; `say` from any thread, the rest from the one that has the port."""

    def __init__(self) -> None:
        self.dropped = 0
        """Lines that no port took in time."""
        self.farewell: Callable[[], bytes] = bytes
        """Asked for the last words when the port is closed."""
        self._lines: deque[bytes] = deque()
        self._half_out = b""
        self._lock = threading.Lock()

    def say(self, line: bytes) -> None:
        """Put a line in the queue; returns at once."""
        with self._lock:
            if len(self._lines) >= MOST_WAITING:
                self._lines.popleft()
                self.dropped += 1
            self._lines.append(line)

    def write_to(self, line: Serial, port: str) -> None:
        """Give the port what it takes at once; raises `PortError` if it has gone."""
        while True:
            if not self._half_out:
                with self._lock:
                    if not self._lines:
                        return
                    self._half_out = self._lines.popleft()
            taken = write_port(line, port, self._half_out)
            self._half_out = self._half_out[taken:]
            if self._half_out:
                return

    def forget(self) -> None:
        """Throw away what was meant for a port that is gone."""
        with self._lock:
            self.dropped += len(self._lines) + bool(self._half_out)
            self._lines.clear()
            self._half_out = b""

    def take_leave(self, line: Serial, port: str) -> None:
        """Say the last words, wait a moment for them to go out, and let the port be closed without waiting for it."""
        if words := self.farewell():
            self.say(words)
        self.write_to(line, port)
        until_s = time.monotonic() + _FAREWELL_S
        while bytes_unsent(line) and time.monotonic() < until_s:
            time.sleep(_LOOK_S)
        if bytes_unsent(line):
            # Else the closing itself would wait for a board that does not read, up to half a minute.
            drop_unsent(line)
