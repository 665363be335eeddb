"""Text that a terminal may be shown: without what could steer it, and times as people read them."""

import unicodedata

# Control characters, marks of direction and other invisible ones, halves of letters, private ones, and the separators
# of lines and paragraphs that some readers of logs break a line at.
_STEERING = ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")


def printable(text: str) -> str:
    """Give the text with every control character replaced: what a board sends must not steer a terminal."""
    if text.isprintable():
        return text
    return "".join("�" if unicodedata.category(letter) in _STEERING else letter for letter in text)


def elapsed(seconds: float) -> str:
    """Give elapsed time as h:mm:ss."""
    whole = max(0, int(seconds))
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
