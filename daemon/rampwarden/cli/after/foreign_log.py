"""Logs of other instruments on the command line: looked at, told what each column was taken for, or asked back.

A question ends with the commands that would answer it, so that nobody has to look for an option.
"""

import shlex
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path

from rampwarden.core.quantities import format_duration
from rampwarden.core.written_numbers import DecimalSign
from rampwarden.errors import ForeignLogError, LogQuestionError, RecordError
from rampwarden.foreign_logs import ColumnChoices, DateOrder, LogChoices, LogLook, look_at_log
from rampwarden.terminal_text import elapsed, printable

_GZIP = b"\x1f\x8b"
_BLANKS = b" \t\r\n\xef\xbb\xbf"


class DecimalName(StrEnum):
    """A decimal sign by its name."""

    COMMA = "comma"
    POINT = "point"


class ScaleName(StrEnum):
    """A scale of temperature by its letter."""

    C = "C"
    F = "F"
    K = "K"


class TimeUnitName(StrEnum):
    """A unit of time by its sign."""

    MS = "ms"
    S = "s"
    MIN = "min"
    H = "h"


@dataclass(frozen=True, slots=True)
class LogOptions:
    """What the command line says of a log; None where nothing."""

    probe: str | None = None
    dates: DateOrder | None = None
    decimal: DecimalName | None = None
    unit: ScaleName | None = None
    time_unit: TimeUnitName | None = None

    @property
    def given(self) -> bool:
        """Whether anything was said."""
        return any(each is not None for each in (self.probe, self.dates, self.decimal, self.unit, self.time_unit))

    def choices(self) -> LogChoices:
        """Give them as a look at a log takes them."""
        columns = ColumnChoices(self.probe or "", self.unit or "", self.time_unit or "")
        return LogChoices(columns, self.dates, None if self.decimal is None else DecimalSign[self.decimal.name])

    def __str__(self) -> str:
        flags = (
            ("--probe", self.probe),
            ("--dates", self.dates),
            ("--decimal", self.decimal),
            ("--unit", self.unit),
            ("--time-unit", self.time_unit),
        )
        return "".join(f" {flag} {shlex.quote(str(value))}" for flag, value in flags if value is not None)


def is_foreign(file: Path) -> bool:
    """Tell whether a file is no heat record by its first letter; one that cannot be read is left to who reads it."""
    if file.suffix in (".jsonl", ".gz"):
        return False
    try:
        with file.open("rb") as stream:
            head = stream.read(512)
    except OSError:
        return False
    return bool(head.strip(_BLANKS)) and not head.startswith(_GZIP) and not head.lstrip(_BLANKS).startswith(b"{")


def look_at_file(file: Path, options: LogOptions, schedule: Path | None) -> LogLook:
    """Look at a log; raises `RecordError` where it cannot be read, or with the commands that settle what is open."""
    try:
        data = file.read_bytes()
    except OSError as error:
        raise RecordError(f"{file}: cannot read: {error.strerror}") from error
    try:
        return look_at_log(data, options.choices())
    except LogQuestionError as question:
        asked = [f"{file}: {question}; say which:"]
        asked += [f"  {command(file, options, schedule)} {flag}    ({meant})" for flag, meant in question.options]
        raise RecordError("\n".join(asked)) from None
    except ForeignLogError as error:
        raise RecordError(f"{file}: {error}") from None


def command(file: Path, options: LogOptions, schedule: Path | None) -> str:
    """Write the command that was given, to be gone on with."""
    under = f" --schedule {shlex.quote(str(schedule))}" if schedule is not None else ""
    return f"rampwarden replay {shlex.quote(str(file))}{under}{options}"


def print_look(file: Path, look: LogLook) -> None:
    """Say what a log was taken for, and what was read of it."""
    heading, *columns = look.words
    print(printable(f"{file}: {heading}"))
    for line in columns:
        print(printable(f"  {line}"))
    temps_c = [reading.temp_c for reading in look.readings if reading.temp_c is not None]
    last_s = look.readings[-1].time_s
    began = ""
    if look.started_s is not None:
        began = f" · began {datetime.fromtimestamp(look.started_s, UTC):%Y-%m-%d %H:%M} by its own clock"
    read = f"{len(look.readings)} of {look.rows} rows read, over {format_duration(last_s)}"
    print(f"  {read} · {min(temps_c):.0f} to {max(temps_c):.0f} °C{began}")


def print_remarks(file: Path, look: LogLook) -> None:
    """Say on standard error what could not be read, and where nothing was measured."""
    if look.bad_rows:
        _remark(f"{file}: {look.bad_rows} of {look.rows} rows cannot be used: {'; '.join(look.first_bad)}")
    for start_s, length_s in look.gaps:
        _remark(f"{file}: gap of {format_duration(length_s)} after {elapsed(start_s)}")


def _remark(text: str) -> None:
    print(f"rampwarden: {printable(text)}", file=sys.stderr)
