"""Readings from a CSV file of any make, and a record as a CSV file for any analysis.

Import names the columns: ``time=ts,temp_c=value``. Times are seconds or ISO 8601; both become seconds since the first
row. A row that cannot be used is counted and the first few are told, never fatal. An EMF means a temperature only
together with its reference junction, so a column or one temperature for all rows must be given for it. Further probes
are columns named by their place: ``chamber:temp_c=T2``. A row in which the followed probe's cell is empty tells of the
others alone.
"""

import contextlib
import csv
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import IO

from rampwarden.core.instrument import UNCALIBRATED, BoardCalibration, Thermocouple
from rampwarden.core.model import ProbeReading, Reading
from rampwarden.errors import RecordError
from rampwarden.records.record_lines import MOST_S
from rampwarden.terminal_text import shortened, spreadsheet_cell

_FIELDS = ("time", "temp_c", "temp_f", "emf_uv", "emf_mv", "junction_c")
_TEMPERATURES = ("temp_c", "temp_f", "emf_uv", "emf_mv")
_OF_PROBES = tuple(name for name in _FIELDS if name != "time")
PLACES = ("pot", "chamber", "bottle", "room")
"""What a further column's probe may be named by."""
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
    """Which column holds what, ours by theirs; `junction_c` (°C) stands for every row where no column gives it.

    `probes` gives the same for each further probe, by its place.
    """

    named: Mapping[str, str]
    junction_c: float | None = None
    probes: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    @property
    def all_named(self) -> tuple[str, ...]:
        """Every column that is asked for."""
        return (*self.named.values(), *(theirs for each in self.probes.values() for theirs in each.values()))


def parse_columns(text: str, junction_c: float | None = None) -> Columns:
    """Read ``time=ts,temp_c=value``; raises `RecordError` where the columns do not make a temperature.

    `junction_c` is one temperature (°C) of the reference junction for every row of an EMF.
    """
    columns: dict[str, str] = {}
    probes: dict[str, dict[str, str]] = {}
    for part in text.split(","):
        field_name, equals, theirs = part.strip().partition("=")
        place, colon, ours = field_name.rpartition(":")
        known = _OF_PROBES if colon else _FIELDS
        if not equals or ours not in known or not theirs or (colon and place not in PLACES):
            raise RecordError(
                f"--csv {text!r}: {part!r} is not FIELD=COLUMN; fields: {', '.join(_FIELDS)}, "
                f"and those of further probes by their place, as in chamber:temp_c"
            )
        of = probes.setdefault(place, {}) if colon else columns
        if ours in of:
            raise RecordError(f"--csv {text!r}: {field_name!r} stands twice")
        of[ours] = theirs
    for place, of in probes.items():
        _check_probe(text, place, of, junction_c)
    given = [name for name in _TEMPERATURES if name in columns]
    if len(given) > 1:
        raise RecordError(f"--csv {text!r}: one temperature is enough; choose between {' and '.join(given)}")
    if "time" not in columns or not given:
        raise RecordError(
            f"--csv {text!r}: needs time and one of {', '.join(_TEMPERATURES)}, as in time=ts,temp_c=value"
        )
    _check_junction(text, columns, junction_c)
    return Columns(columns, junction_c, probes)


def _check_probe(text: str, place: str, columns: Mapping[str, str], junction_c: float | None) -> None:
    given = [name for name in _TEMPERATURES if name in columns]
    if len(given) != 1:
        raise RecordError(f"--csv {text!r}: {place} needs one of {', '.join(_TEMPERATURES)}")
    if given[0].startswith("emf") and "junction_c" not in columns and junction_c is None:
        raise RecordError(f"--csv {text!r}: {place}:{given[0]} needs {place}:junction_c=COLUMN, or --junction")


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
    times = [line.time_s for line in read_csv(path, columns, ImportTally()) if isinstance(line, Reading)]
    steps = [after - before for before, after in pairwise(times) if after > before]
    return median(steps) if steps else 1.0


def read_csv(path: Path, columns: Columns, tally: ImportTally) -> Iterator[Reading | ProbeReading]:
    """Give the readings of a CSV file in order, seconds counted from its first good row."""
    try:
        file = path.open(newline="", encoding="utf-8-sig")
    except OSError as error:
        raise RecordError(f"{path}: cannot read: {error.strerror}") from error
    with file:
        rows = csv.DictReader(file, skipinitialspace=True)
        try:
            missing = [theirs for theirs in columns.all_named if theirs not in (rows.fieldnames or ())]
            if missing:
                found = ", ".join(rows.fieldnames or ()) or "nothing"
                raise RecordError(f"{path}: no column {missing[0]!r}; the first line names: {found}")
            yield from _readings(rows, columns, tally)
        except (csv.Error, UnicodeDecodeError) as error:
            raise RecordError(f"{path}: after line {rows.line_num}: not a CSV file in UTF-8: {error}") from error


def _readings(rows: "csv.DictReader[str]", columns: Columns, tally: ImportTally) -> Iterator[Reading | ProbeReading]:
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
            readings = _row(time_s, row, columns)
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
        yield from readings


def _row(time_s: float, row: dict[str, str], columns: Columns) -> Sequence[Reading | ProbeReading]:
    """Give what one row tells: the followed probe first, and none whose cell is empty where others have theirs."""
    beside = [
        ProbeReading(time_s, place, *_values(row, named, columns.junction_c))
        for place, named in columns.probes.items()
        if not _is_empty(row, named)
    ]
    if beside and _is_empty(row, columns.named):
        return beside
    return [Reading(time_s, *_values(row, columns.named, columns.junction_c)), *beside]


def _is_empty(row: dict[str, str], named: Mapping[str, str]) -> bool:
    return all(not (row[theirs] or "").strip() for ours, theirs in named.items() if ours in _TEMPERATURES)


def _values(
    row: dict[str, str], named: Mapping[str, str], junction_c: float | None
) -> tuple[float | None, float | None, float | None]:
    """Give EMF (µV), junction and temperature (°C) of one probe in a row."""
    numbers = {ours: _number(row[theirs], theirs) for ours, theirs in named.items() if ours != "time"}
    values: dict[str, float] = {} if junction_c is None else {"junction_c": junction_c}
    for name, number in numbers.items():
        if name == "temp_f":
            values["temp_c"] = (number - 32.0) * 5.0 / 9.0
        elif name == "emf_mv":
            values["emf_uv"] = number * 1000.0
        else:
            values[name] = number
    return values.get("emf_uv"), values.get("junction_c"), values.get("temp_c")


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
    lines: Iterable[Reading | ProbeReading],
    couple: Thermocouple,
    stream: IO[str],
    calibration: BoardCalibration = UNCALIBRATED,
    probes: Mapping[str, tuple[Thermocouple, BoardCalibration]] | None = None,
) -> None:
    """Write readings as CSV: time, what was measured, and the temperature by calibration and reference function.

    A reading with a fault keeps what was measured, for whoever looks for the fault, but has no temperature. Each probe
    in `probes` has four columns more, `<probe>:emf_uv` and so on; what came in one instant stands in one row.
    """
    probes = probes or {}
    writer = csv.writer(stream, lineterminator="\n")
    head = [f"{probe}:{column}" for probe in probes for column in _MEASURED]
    writer.writerow(["time_s", *_MEASURED, *head])
    empty: list[object] = [None] * len(_MEASURED)
    for time_s, together in _rows(lines):
        row = [time_s, *(_cells(together[""], couple, calibration) if "" in together else empty)]
        for probe, (of_probe, its_calibration) in probes.items():
            row += _cells(together[probe], of_probe, its_calibration) if probe in together else empty
        writer.writerow(row)


_MEASURED = ("emf_uv", "junction_c", "temp_c", "faults")


def _rows(
    lines: Iterable[Reading | ProbeReading],
) -> Iterator[tuple[float, dict[str, Reading | ProbeReading]]]:
    """Give what came in one instant together, by its probe; two readings of one probe are two instants."""
    time_s, together = 0.0, dict[str, Reading | ProbeReading]()
    for line in lines:
        probe = line.probe if isinstance(line, ProbeReading) else ""
        if together and (line.time_s != time_s or probe in together):
            yield time_s, together
            together = {}
        time_s = line.time_s
        together[probe] = line
    if together:
        yield time_s, together


def _cells(reading: Reading | ProbeReading, couple: Thermocouple, calibration: BoardCalibration) -> list[object]:
    temp_c = None if reading.faults else reading.temp_c
    if reading.emf_uv is not None and not reading.faults:
        try:
            temp_c = round(couple.temp_c(calibration.correct(reading.emf_uv), reading.junction_c or 0.0), 4)
        except ValueError:
            temp_c = None
    return [reading.emf_uv, reading.junction_c, temp_c, spreadsheet_cell(" ".join(reading.faults))]
