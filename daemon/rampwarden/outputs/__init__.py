"""Where events go besides the heat record."""

__all__ = [
    "alarm_lines",
    "bell",
    "buzzer",
    "mqtt",
    "outbox",
    "speech",
    "status_line",
    "worker",
]
