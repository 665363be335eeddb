"""Where settings become parts, and parts a running watch: the only place that knows every one of them."""

__all__ = [
    "audible",
    "bell",
    "board_speech",
    "crucible",
    "display",
    "heat",
    "heat_start",
    "mqtt",
    "page",
    "recorded_settings",
    "running",
    "stop_signals",
    "watch_services",
]
