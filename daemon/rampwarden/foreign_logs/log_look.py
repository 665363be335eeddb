"""A log of another instrument looked at: what each column is taken for, its readings, and what could not be read."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

from rampwarden.core.model import Reading
from rampwarden.core.quantities import counted
from rampwarden.core.written_numbers import DecimalSign
from rampwarden.errors import ForeignLogError
from rampwarden.foreign_logs.columns import UNIT_S, ColumnChoices, LogColumn, Role, columns_of
from rampwarden.foreign_logs.figures import decimal_of, figure
from rampwarden.foreign_logs.moments import DateOrder, clock_s, day_s, moment_s, order_of
from rampwarden.foreign_logs.table import LogRow, LogTable, table_of
from rampwarden.foreign_logs.texts import text_of_log

_DAY_S = 86400.0
_MOST_TOLD = 5
_LONGEST_QUOTED = 40
# A step this many times the usual one is worth telling: nobody watched in between.
_GAP_FACTOR = 10.0
# No heat lasts a month.
_MOST_S = 31 * _DAY_S
_SCALED: dict[str, Callable[[float], float]] = {
    "C": lambda value: value,
    "F": lambda value: (value - 32.0) * 5.0 / 9.0,
    "K": lambda value: value - 273.15,
}


@dataclass(frozen=True, slots=True)
class LogChoices:
    """What a person has settled beforehand; None and empty where the file is to tell."""

    columns: ColumnChoices = field(default_factory=ColumnChoices)
    dates: DateOrder | None = None
    decimal: DecimalSign | None = None


@dataclass(frozen=True, slots=True)
class LogLook:
    """What a log was taken for, in `words` a line each, and what came of it.

    `readings` count seconds from the first that could be used; `gaps` are (start, length) in seconds. `started_s` is
    when it began, seconds since 1970 by the instrument's own clock, None where the log does not tell a date.
    """

    words: tuple[str, ...]
    readings: tuple[Reading, ...]
    rows: int
    bad_rows: int
    first_bad: tuple[str, ...]
    gaps: tuple[tuple[float, float], ...]
    interval_s: float
    started_s: float | None


def look_at_log(data: bytes, choices: LogChoices) -> LogLook:
    """Read a log; raises `LogQuestionError` where it leaves something open, `ForeignLogError` where nothing is read."""
    text = text_of_log(data)
    table = table_of(text.lines)
    columns = columns_of(table, text.lines[: table.rows[0].number - 1], choices.columns)
    [probe] = [column for column in columns if column.role is Role.TEMPERATURE]
    decimal = decimal_of(
        [_cells(table, column) for column in columns if column.role in (Role.TEMPERATURE, Role.ELAPSED)],
        choices.decimal,
    )
    order, tell_time = _clock_of(table, columns, decimal, choices.dates)
    dated = any(column.role in (Role.MOMENT, Role.DATE) or column.why.endswith("1970") for column in columns)
    taken = _Taken()
    stamped = [each for row in table.rows if (each := taken.read(row, probe, decimal, tell_time)) is not None]
    if not stamped:
        first = f": {taken.first_bad[0]}" if taken.first_bad else ""
        raise ForeignLogError(f"none of its {len(table.rows)} rows can be read{first}")
    notes: list[str] = []
    placed = _placed(stamped, notes, overnight=not dated and any(c.role is Role.CLOCK for c in columns))
    readings = _readings(placed, taken)
    words = [_heading(text.encoding, table, decimal), *(_column_words(column, order) for column in columns), *notes]
    steps = [after.time_s - before.time_s for before, after in pairwise(readings) if after.time_s > before.time_s]
    usual_s = median(steps) if steps else 1.0
    gaps = [
        (before.time_s, after.time_s - before.time_s)
        for before, after in pairwise(readings)
        if after.time_s - before.time_s > _GAP_FACTOR * usual_s
    ]
    started_s = placed[0][1] if dated else None
    return LogLook(
        tuple(words), readings, len(table.rows), taken.bad_rows, tuple(taken.first_bad), tuple(gaps), usual_s, started_s
    )


@dataclass(slots=True)
class _Taken:
    """Reads rows, and keeps count of those that cannot be."""

    bad_rows: int = 0
    first_bad: list[str] = field(default_factory=list)

    def read(
        self, row: LogRow, probe: LogColumn, decimal: DecimalSign, tell_time: Callable[[LogRow], float]
    ) -> tuple[LogRow, float, float] | None:
        try:
            at_s = tell_time(row)
            cell = row.cells[probe.index] if probe.index < len(row.cells) else ""
            try:
                value = figure(cell, decimal)
            except ValueError:
                raise ValueError(f"{probe.name} = {cell[:_LONGEST_QUOTED]!r} is no number") from None
        except (ValueError, IndexError) as error:
            self.refuse(row, str(error) if isinstance(error, ValueError) else "it has fewer columns than the others")
            return None
        return row, at_s, round(_SCALED[probe.unit](value), 6)

    def refuse(self, row: LogRow, why: str) -> None:
        """Count a row that cannot be used; the first few are told."""
        self.bad_rows += 1
        if len(self.first_bad) < _MOST_TOLD:
            self.first_bad.append(f"line {row.number}: {why}")


def _cells(table: LogTable, column: LogColumn) -> list[str]:
    return [row.cells[column.index] for row in table.rows if column.index < len(row.cells)]


def _clock_of(
    table: LogTable, columns: Sequence[LogColumn], decimal: DecimalSign, given: DateOrder | None
) -> tuple[DateOrder | None, Callable[[LogRow], float]]:
    """Give how a row tells its time, seconds, and in which order dates are written if there are any."""
    by_role = {column.role: column for column in columns}
    if (column := by_role.get(Role.MOMENT)) is not None:
        order, index = order_of(_cells(table, column), given), column.index
        return order, lambda row: moment_s(row.cells[index], order)
    if (column := by_role.get(Role.CLOCK)) is not None:
        index = column.index
        if (day := by_role.get(Role.DATE)) is not None:
            order, day_index = order_of(_cells(table, day), given), day.index
            return order, lambda row: day_s(row.cells[day_index], order) + clock_s(row.cells[index])
        return None, lambda row: clock_s(row.cells[index])
    column = by_role[Role.ELAPSED]
    index, unit_s = column.index, UNIT_S[column.unit]
    return None, lambda row: _elapsed(row.cells[index], decimal, column.name) * unit_s


def _elapsed(cell: str, decimal: DecimalSign, name: str) -> float:
    try:
        # An epoch has more digits than anything that is measured.
        return float(cell) if cell.isdecimal() else figure(cell, decimal)
    except ValueError:
        raise ValueError(f"{name} = {cell[:_LONGEST_QUOTED]!r} is no number") from None


Stamped = tuple[LogRow, float, float]


def _placed(stamped: list[Stamped], notes: list[str], *, overnight: bool) -> list[Stamped]:
    """Put rows in order: newest last, over midnight where no date says so, and apart where minutes are all there is."""
    if overnight:
        stamped = _over_midnight(stamped)
    steps = [after[1] - before[1] for before, after in pairwise(stamped)]
    if sum(step < 0 for step in steps) > 0.9 * max(1, sum(step != 0 for step in steps)) and len(steps) > 1:
        notes.append("its newest row stands first, so it was read from its end")
        stamped = stamped[::-1]
        steps = [-step for step in reversed(steps)]
    if len(steps) > 1 and sum(step == 0 for step in steps) > 0.5 * len(steps):
        notes.append("several rows share one time, so they were spread evenly until the next")
        stamped = _spread(stamped)
    return stamped


def _over_midnight(stamped: list[Stamped]) -> list[Stamped]:
    placed: list[Stamped] = []
    days, last_s = 0.0, 0.0
    for row, at_s, value in stamped:
        if placed and at_s < last_s - _DAY_S / 2:
            days += _DAY_S
        last_s = at_s
        placed.append((row, at_s + days, value))
    return placed


def _spread(stamped: list[Stamped]) -> list[Stamped]:
    placed: list[Stamped] = []
    place, usual_s = 0, 1.0
    while place < len(stamped):
        end = place
        while end < len(stamped) and stamped[end][1] == stamped[place][1]:
            end += 1
        if end < len(stamped):
            usual_s = (stamped[end][1] - stamped[place][1]) / (end - place)
        placed += [(row, at_s + n * usual_s, value) for n, (row, at_s, value) in enumerate(stamped[place:end])]
        place = end
    return placed


def _readings(placed: Sequence[Stamped], taken: _Taken) -> tuple[Reading, ...]:
    start_s = placed[0][1]
    last_s = 0.0
    readings: list[Reading] = []
    for row, at_s, temp_c in placed:
        time_s = round(at_s - start_s, 6)
        if time_s < last_s:
            taken.refuse(row, "time runs backwards")
        elif time_s > _MOST_S:
            taken.refuse(row, "is more than a month after the first row")
        else:
            readings.append(Reading(time_s, None, None, temp_c))
            last_s = time_s
    return tuple(readings)


def _heading(encoding: str, table: LogTable, decimal: DecimalSign) -> str:
    over = f", {counted(table.passed_over, 'a line', 'lines')} before it passed over" if table.passed_over else ""
    names = "" if table.named else ", without names"
    return f"{encoding}, columns parted by {table.parted_by}, decimal {decimal.name.lower()}{names}{over}"


def _column_words(column: LogColumn, order: DateOrder | None) -> str:
    said = str(column.role)
    if column.role in (Role.MOMENT, Role.DATE) and order is not None:
        said += f", {order.replace('-', ' ')}"
    elif column.role is Role.TEMPERATURE:
        said += f", {'' if column.unit == 'K' else '°'}{column.unit}"
    elif column.role is Role.ELAPSED:
        said += f", {column.unit}"
    return f"{column.index + 1}  {column.name!r}: {said}" + (f" ({column.why})" if column.why else "")
