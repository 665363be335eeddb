"""Where settings become parts, and parts a running watch: the only place that knows every one of them."""

__all__ = [
    "bell",
    "board_speech",
    "crucible",
    "display",
    "heat",
    "heat_start",
    "mqtt",
    "page",
    "probes",
    "recorded_settings",
    "running",
    "stop_signals",
    "watch_services",
]
