"""Where settings become parts, and parts a running watch: the only place that knows every one of them."""

__all__ = [
    "archive",
    "audible",
    "bell",
    "board_speech",
    "crucible",
    "display",
    "entering",
    "heat",
    "heat_start",
    "mqtt",
    "page",
    "probes",
    "recorded_settings",
    "rehearsed_probes",
    "running",
    "stop_signals",
    "waiting_records",
    "watch_services",
]
