"""Where events go besides the heat record."""

__all__ = [
    "alarm_lines",
    "bell",
    "buzzer",
    "mqtt",
    "outbox",
    "status_line",
    "worker",
]
