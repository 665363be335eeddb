"""Where events go besides the heat record."""

__all__ = [
    "bell",
    "buzzer",
    "mqtt",
    "outbox",
    "status_line",
    "worker",
]
