"""Keys as people call them, and the codes that Linux gives them on an input device (linux/input-event-codes.h).

Whatever has no name here is called by its code, as `evtest` or any such program prints it.
"""

from collections.abc import Mapping
from types import MappingProxyType

from rampwarden.core.model import mark_name

_ROWS = ((2, "1234567890"), (16, "qwertyuiop"), (30, "asdfghjkl"), (44, "zxcvbnm"))
_NAMED = {
    "escape": 1,
    "minus": 12,
    "backspace": 14,
    "tab": 15,
    "enter": 28,
    "control": 29,
    "shift": 42,
    "comma": 51,
    "point": 52,
    "alt": 56,
    "space": 57,
    "keypad-enter": 96,
    "home": 102,
    "up": 103,
    "page-up": 104,
    "left": 105,
    "right": 106,
    "end": 107,
    "down": 108,
    "page-down": 109,
    "insert": 110,
    "delete": 111,
    "mute": 113,
    "volume-down": 114,
    "volume-up": 115,
    "play": 164,
    "left-button": 272,
    "right-button": 273,
    "middle-button": 274,
    **{f"f{number}": 58 + number for number in range(1, 11)},
    "f11": 87,
    "f12": 88,
}
_MOST_CODE = 0x2FF

KEY_CODES: Mapping[str, int] = MappingProxyType(
    {**{letter: first + place for first, row in _ROWS for place, letter in enumerate(row)}, **_NAMED}
)
"""Codes by name."""


def key_code(name: str) -> int:
    """Give a key's code by its name, or by the code itself from 10 on; raises `ValueError` where there is none.

    >>> key_code("Page Up"), key_code("183")
    (104, 183)
    """
    plain = mark_name(name)
    if plain in KEY_CODES:
        return KEY_CODES[plain]
    if plain.isascii() and plain.isdigit() and 10 <= int(plain[:5]) <= _MOST_CODE:
        return int(plain)
    raise ValueError(f"there is no key {name[:40]!r}; known: a to z, 0 to 9, {', '.join(_NAMED)}, or a code from 10 on")
