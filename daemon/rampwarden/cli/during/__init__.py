"""Commands that run a watch, or speak to one."""

__all__ = [
    "display_options",
    "heat_options",
    "standing",
]
