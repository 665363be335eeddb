"""Where settings become parts, and parts a running watch: the only place that knows every one of them."""

__all__ = [
    "archive",
    "archive_opening",
    "audible",
    "bell",
    "board_speech",
    "crucible",
    "display",
    "entering",
    "heat",
    "heat_note",
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
