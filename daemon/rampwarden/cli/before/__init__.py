"""Commands for the time before a heat."""

__all__ = [
    "show_settings",
]
