"""Commands about the crucibles in the register."""

__all__ = [
    "enter",
    "options",
]
