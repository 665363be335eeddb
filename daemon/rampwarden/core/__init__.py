"""The pure core: readings and commands in, events out. Opens nothing, starts nothing, reads no clock."""

__all__ = [
    "alarm_entry",
    "alarms",
    "catalogue",
    "diagnosis",
    "heat",
    "instrument",
    "limits",
    "model",
    "monitor",
    "monitor_alarms",
    "monitor_parameters",
    "physics",
    "pot",
    "quantities",
    "schedule",
    "usual_marks",
    "weight_marks",
    "written_numbers",
]
