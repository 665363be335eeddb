"""What a keyboard-like button sends: events of Linux's input layer, of which only a key going down means anything.

A decoder like those of boards: it takes bytes and gives presses, and never reads. Policy: events come whole or in
pieces; what is no key, a key let go, and a key that repeats by itself are passed over, and so is a key that goes down
twice within a quarter of a second: contacts bounce, and a foot trembles.
"""

import struct
from typing import NamedTuple

# struct input_event of linux/input.h: two longs of time, two shorts of type and code, one int of value.
_EVENT = struct.Struct("llHHi")
_KEY = 1
_DOWN = 1
_BOUNCES_S = 0.25


class _Down(NamedTuple):
    code: int
    time_s: float


class ButtonEvents:
    """Gives the codes of the keys that go down."""

    def __init__(self) -> None:
        self._begun = b""
        self._last = _Down(0, 0.0)

    def feed(self, data: bytes) -> list[int]:
        """Take what has come; the events it completes, oldest first."""
        whole = self._begun + data
        end = len(whole) - len(whole) % _EVENT.size
        self._begun = whole[end:]
        pressed = []
        for seconds, micros, kind, code, value in _EVENT.iter_unpack(whole[:end]):
            if kind != _KEY or value != _DOWN:
                continue
            down = _Down(code, seconds + micros / 1e6)
            bounces = down.code == self._last.code and abs(down.time_s - self._last.time_s) < _BOUNCES_S
            self._last = down
            if not bounces:
                pressed.append(code)
        return pressed
