"""Reads a button's device: a large key, a foot switch, whatever is a keyboard to the system.

A button that is pulled out is waited for and opened anew; that it is away is said once, until it is back. It is run in
a thread of its own, which `close` wakes.
"""

import fcntl
import os
import select
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from rampwarden.sources.button_events import ButtonEvents

# EVIOCGRAB of linux/input.h, _IOW('E', 0x90, int): from then on nobody else gets its events.
_GRAB = 0x40044590
_AGAIN_S = 2.0
_AT_ONCE = 4096


class ButtonDevice:
    """Calls `press` with the code of each key that goes down; `say` is told why there is none to be heard.

    `alone`: nothing else gets its keys, so that a foot switch types into no shell.
    """

    def __init__(
        self, path: Path, press: Callable[[int], None], say: Callable[[str], None], *, alone: bool = False
    ) -> None:
        self._path, self._press, self._say, self._alone = path, press, say, alone
        self._trouble = ""
        self._woken, self._waker = os.pipe()

    def run(self) -> None:
        """Read until it is closed."""
        while not self._is_closed(0.0):
            try:
                self._read()
            except OSError as error:
                self._note(error.strerror or str(error))
            if self._is_closed(_AGAIN_S):
                return

    def close(self) -> None:
        """Have `run` end."""
        with suppress(OSError):
            os.write(self._waker, b"x")

    def _read(self) -> None:
        """Read one life of the device."""
        events = ButtonEvents()
        descriptor = os.open(self._path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
        try:
            if self._alone:
                fcntl.ioctl(descriptor, _GRAB, 1)
            while True:
                readable, _, _ = select.select([descriptor, self._woken], [], [])
                if self._woken in readable:
                    return
                data = os.read(descriptor, _AT_ONCE)
                if not data:
                    self._note("it has ended")
                    return
                self._trouble = ""
                for code in events.feed(data):
                    self._press(code)
        finally:
            os.close(descriptor)

    def _is_closed(self, within_s: float) -> bool:
        return bool(select.select([self._woken], [], [], within_s)[0])

    def _note(self, trouble: str) -> None:
        if trouble != self._trouble:
            self._trouble = trouble
            self._say(f"the buttons are not heard: {self._path}: {trouble}")
