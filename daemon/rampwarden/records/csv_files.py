"""Readings from a CSV file of any make, and a record as a CSV file for any analysis.

Import names the columns: ``time=ts,temp_c=value``. Times are seconds or ISO 8601; both become seconds since the first
row. A row that cannot be used is counted and the first few are told, never fatal. An EMF means a temperature only
together with its reference junction, so a column or one temperature for all rows must be given for it.
"""

import contextlib
import csv
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import IO

from rampwarden.core.instrument import UNCALIBRATED, BoardCalibration, Thermocouple
from rampwarden.core.model import Reading
from rampwarden.errors import RecordError
from rampwarden.records.record_lines import MOST_S
from rampwarden.terminal_text import shortened, spreadsheet_cell

_FIELDS = ("time", "temp_c", "temp_f", "emf_uv", "emf_mv", "junction_c")
_TEMPERATURES = ("temp_c", "temp_f", "emf_uv", "emf_mv")
_MOST_TOLD = 5
_LONGEST_QUOTED = 60
# A step this many times the usual one is worth telling: nobody watched in between.
_GAP_FACTOR = 10.0


@dataclass(slots=True)
class ImportTally:
    """What an import met: rows that could not be used, and gaps as (start, length) in seconds."""

    rows: int = 0
    bad_rows: int = 0
    first_bad: list[str] = field(default_factory=list)
    gaps: list[tuple[float, float]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column holds what, ours by theirs; `junction_c` (°C) stands for every row where no column gives it."""

    named: Mapping[str, str]
    junction_c: float | None = None


def parse_columns(text: str, junction_c: float | None = None) -> Columns:
    """Read ``time=ts,temp_c=value``; raises `RecordError` where the columns do not make a temperature.

    `junction_c` is one temperature (°C) of the reference junction for every row of an EMF.
    """
    columns: dict[str, str] = {}
    for part in text.split(","):
        ours, equals, theirs = part.strip().partition("=")
        if not equals or ours not in _FIELDS or not theirs:
            raise RecordError(f"--csv {text!r}: {part!r} is not FIELD=COLUMN; fields: {', '.join(_FIELDS)}")
        if ours in columns:
            raise RecordError(f"--csv {text!r}: {ours!r} stands twice")
        columns[ours] = theirs
    given = [name for name in _TEMPERATURES if name in columns]
    if len(given) > 1:
        raise RecordError(f"--csv {text!r}: one temperature is enough; choose between {' and '.join(given)}")
    if "time" not in columns or not given:
        raise RecordError(
            f"--csv {text!r}: needs time and one of {', '.join(_TEMPERATURES)}, as in time=ts,temp_c=value"
        )
    _check_junction(text, columns, junction_c)
    return Columns(columns, junction_c)


def _check_junction(text: str, columns: Mapping[str, str], junction_c: float | None) -> None:
    """Refuse an EMF whose reference junction nobody gives, and a junction where it would change nothing."""
    is_emf = "emf_uv" in columns or "emf_mv" in columns
    if is_emf and "junction_c" not in columns and junction_c is None:
        raise RecordError(
            f"--csv {text!r}: an EMF alone is no temperature; name the reference junction's column "
            "(junction_c=COLUMN), or give one temperature for all rows: --junction 22 "
            "(°C; --junction 0 only if it stood in ice, or if the instrument has added the junction's EMF already)"
        )
    if junction_c is not None and not is_emf:
        raise RecordError(f"--csv {text!r}: --junction belongs to an EMF column; temperatures have theirs in them")
    if junction_c is not None and "junction_c" in columns:
        raise RecordError(f"--csv {text!r}: the reference junction is given twice, as a column and by --junction")


def usual_interval_s(path: Path, columns: Columns) -> float:
    """Give the median time between a file's readings, s: a spot thermometer's log has one a minute."""
    times = [reading.time_s for reading in read_csv(path, columns, ImportTally())]
    steps = [after - before for before, after in pairwise(times) if after > before]
    return median(steps) if steps else 1.0


def read_csv(path: Path, columns: Columns, tally: ImportTally) -> Iterator[Reading]:
    """Give the readings of a CSV file in order, seconds counted from its first good row."""
    try:
        file = path.open(newline="", encoding="utf-8-sig")
    except OSError as error:
        raise RecordError(f"{path}: cannot read: {error.strerror}") from error
    with file:
        rows = csv.DictReader(file, skipinitialspace=True)
        try:
            missing = [theirs for theirs in columns.named.values() if theirs not in (rows.fieldnames or ())]
            if missing:
                found = ", ".join(rows.fieldnames or ()) or "nothing"
                raise RecordError(f"{path}: no column {missing[0]!r}; the first line names: {found}")
            yield from _readings(rows, columns, tally)
        except (csv.Error, UnicodeDecodeError) as error:
            raise RecordError(f"{path}: after line {rows.line_num}: not a CSV file in UTF-8: {error}") from error


def _readings(rows: "csv.DictReader[str]", columns: Columns, tally: ImportTally) -> Iterator[Reading]:
    start_s: float | None = None
    last_s = usual_s = 0.0
    time_column = columns.named["time"]
    for row in rows:
        tally.rows += 1
        try:
            stamp_s = _seconds(row[time_column], time_column)
            time_s = 0.0 if start_s is None else round(stamp_s - start_s, 6)
            if time_s < last_s:
                raise ValueError("time runs backwards")
            if time_s > MOST_S:
                raise ValueError(f"{time_column} = {_quoted(row[time_column])} is months after the first row")
            reading = _reading(time_s, row, columns)
        except (ValueError, OverflowError) as error:
            tally.bad_rows += 1
            if len(tally.first_bad) < _MOST_TOLD:
                tally.first_bad.append(f"line {rows.line_num}: {error}")
            continue
        if start_s is None:
            start_s = stamp_s
        step_s = time_s - last_s
        if usual_s and step_s > _GAP_FACTOR * usual_s:
            tally.gaps.append((last_s, step_s))
        elif step_s > 0:
            usual_s = step_s if not usual_s else 0.9 * usual_s + 0.1 * step_s
        last_s = time_s
        yield reading


def _reading(time_s: float, row: dict[str, str], columns: Columns) -> Reading:
    numbers = {ours: _number(row[theirs], theirs) for ours, theirs in columns.named.items() if ours != "time"}
    values: dict[str, float] = {} if columns.junction_c is None else {"junction_c": columns.junction_c}
    for name, number in numbers.items():
        if name == "temp_f":
            values["temp_c"] = (number - 32.0) * 5.0 / 9.0
        elif name == "emf_mv":
            values["emf_uv"] = number * 1000.0
        else:
            values[name] = number
    return Reading(time_s, values.get("emf_uv"), values.get("junction_c"), values.get("temp_c"))


def _number(text: str | None, column: str) -> float:
    try:
        value = float(text or "")
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ValueError(f"{column} = {_quoted(text)} is not a number")
    return value


def _quoted(text: str | None) -> str:
    return repr(shortened(text or "", _LONGEST_QUOTED))


def _seconds(text: str | None, column: str) -> float:
    with contextlib.suppress(ValueError):
        return _number(text, column)
    try:
        moment = datetime.fromisoformat((text or "").strip())
    except ValueError:
        raise ValueError(f"{column} = {_quoted(text)} is neither seconds nor an ISO 8601 time") from None
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def write_csv(
    readings: Iterable[Reading],
    couple: Thermocouple,
    stream: IO[str],
    calibration: BoardCalibration = UNCALIBRATED,
) -> None:
    """Write readings as CSV: time, what was measured, and the temperature by calibration and reference function.

    A reading with a fault keeps what was measured, for whoever looks for the fault, but has no temperature.
    """
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["time_s", "emf_uv", "junction_c", "temp_c", "faults"])
    for reading in readings:
        temp_c = None if reading.faults else reading.temp_c
        if reading.emf_uv is not None and not reading.faults:
            try:
                temp_c = round(couple.temp_c(calibration.correct(reading.emf_uv), reading.junction_c or 0.0), 4)
            except ValueError:
                temp_c = None
        writer.writerow(
            [reading.time_s, reading.emf_uv, reading.junction_c, temp_c, spreadsheet_cell(" ".join(reading.faults))]
        )
