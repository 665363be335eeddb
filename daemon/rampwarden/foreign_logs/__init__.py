"""Logs of other instruments: bytes in, readings and what each column was taken for out. Reads no file."""

from rampwarden.foreign_logs.columns import UNIT_S, ColumnChoices
from rampwarden.foreign_logs.log_look import LogChoices, LogLook, look_at_log
from rampwarden.foreign_logs.moments import DateOrder

__all__ = ["UNIT_S", "ColumnChoices", "DateOrder", "LogChoices", "LogLook", "look_at_log"]
