"""Where events go besides the heat record."""

__all__ = [
    "alarm_lines",
    "bell",
    "buzzer",
    "in_fahrenheit",
    "mqtt",
    "outbox",
    "question_lines",
    "speech",
    "status_line",
    "worker",
]
