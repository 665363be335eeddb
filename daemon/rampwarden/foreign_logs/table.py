"""A log's lines as a table: what parts its columns, which line names them, and where its readings begin."""

import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rampwarden.errors import ForeignLogError
from rampwarden.foreign_logs.cells import CellForm, form_of

SPACES = " "
# In this order where two part a log equally well.
_SEPARATORS = (";", "\t", "|", ",", SPACES)
_CALLED = {";": "semicolons", "\t": "tabs", "|": "upright lines", ",": "commas", SPACES: "blanks"}
# What a blank parts from its number, and still belongs to it.
_BELONGS = re.compile(r"(\d)\s+([ap]\.?m\b\.?|[°º˚]\s?[CF]\b)", re.IGNORECASE)
# So many lines show how a log is built; names stand among the first of them.
_LOOKED_AT = 600
_MOST_COLUMNS = 500
# What parts columns gives at least this share of cells that are something.
_LEAST_SENSE = 0.5


@dataclass(frozen=True, slots=True)
class LogRow:
    """One line of readings, with its number in the file from 1."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LogTable:
    """A log's columns by `names` (empty where the log has none), its `rows`, and how many lines stood before them."""

    separator: str
    names: tuple[str, ...]
    named: bool
    passed_over: int
    rows: tuple[LogRow, ...]

    @property
    def parted_by(self) -> str:
        """What parts its columns, in words."""
        return _CALLED[self.separator]


def table_of(lines: Sequence[str]) -> LogTable:
    """Find the table in a log's lines; raises `ForeignLogError` where there is none."""
    looked_at = [line for line in lines if line.strip()][:_LOOKED_AT]
    scores = {each: _sense(looked_at, each) for each in _SEPARATORS}
    separator = max(_SEPARATORS, key=lambda each: scores[each][0])
    sense, width = scores[separator]
    if sense < _LEAST_SENSE:
        raise ForeignLogError("no line of it looks like a reading: a time and a number, with something between them")
    return _table(list(_rows(lines, separator)), separator, width)


def _rows(lines: Sequence[str], separator: str) -> Iterator[LogRow]:
    for number, line in enumerate(lines, start=1):
        if line.strip():
            yield LogRow(number, _cells(line, separator))


def _cells(line: str, separator: str) -> tuple[str, ...]:
    if separator == SPACES:
        return tuple(_BELONGS.sub(r"\1\2", line).split())
    try:
        [cells] = csv.reader([line], delimiter=separator, skipinitialspace=True)
    except (csv.Error, ValueError):
        cells = line.split(separator)
    stripped = [cell.strip() for cell in cells[:_MOST_COLUMNS]]
    # A separator at the end of each line makes no column.
    while stripped and not stripped[-1]:
        stripped.pop()
    return tuple(stripped)


def _sense(lines: Sequence[str], separator: str) -> tuple[float, int]:
    """Tell how well a separator parts a log, from 0 to 1, and into how many columns."""
    parted = [_cells(line, separator) for line in lines]
    forms = [[form_of(cell) for cell in cells] for cells in parted]
    readings = [each for each in forms if len(each) > 1 and _is_reading(each)]
    if not readings:
        return 0.0, 0
    width, count = Counter(map(len, readings)).most_common(1)[0]
    cells = [form for each in readings for form in each]
    sensible = sum(form is not CellForm.OTHER for form in cells) / len(cells)
    return sensible * (0.5 + 0.5 * count / len(lines)), width


def _is_reading(forms: Sequence[CellForm]) -> bool:
    """Tell whether a line may be one of readings: it begins with no text, and more of it is something than is not."""
    useful = sum(form not in (CellForm.OTHER, CellForm.BLANK) for form in forms)
    return useful >= 2 and useful * 2 >= len(forms)


def _table(rows: list[LogRow], separator: str, width: int) -> LogTable:
    first = next(
        place for place, row in enumerate(rows) if len(row.cells) == width and _is_reading([*map(form_of, row.cells)])
    )
    names, units = _names(rows[:first], width)
    if len(names) == width - 1 and _number_the_rows([row.cells[0] for row in rows[first : first + 3] if row.cells]):
        names = ["row", *names]
    if names and len(names) < width and separator == ",":
        raise ForeignLogError(
            f"line {rows[first].number} has {width} cells by its commas, and the names above are {len(names)}: do "
            "commas part its decimals as well as its columns? Export it with semicolons, or with decimal points"
        )
    named = bool(names)
    names = [*names, *(f"column {number}" for number in range(len(names) + 1, width + 1))]
    whole = tuple(
        f"{name} {unit}".strip() if unit else name
        for name, unit in zip(names, [*units, *[""] * (len(names) - len(units))], strict=False)
    )
    return LogTable(separator, whole, named, first - (1 if named else 0) - bool(units), tuple(rows[first:]))


def _number_the_rows(cells: Sequence[str]) -> bool:
    """Tell whether the first cells count 1, 2, 3: some programs number their rows, and give that column no name."""
    return (
        len(cells) > 1
        and cells[0].isdecimal()
        and all(cell.isdecimal() and int(cell) == int(cells[0]) + step for step, cell in enumerate(cells))
    )


def _names(above: Sequence[LogRow], width: int) -> tuple[list[str], list[str]]:
    """Give names and, where a line of their own has them, units: from the last lines above the readings."""
    # Names may be fewer than cells (the last has none), and more (a column that was never filled).
    fitting = [row for row in above[-3:] if len(row.cells) >= max(2, width - 1)]
    if not fitting or fitting[-1] is not above[-1]:
        # Of commas that part decimals too there are fewer names.
        near = above[-1] if above and len(above[-1].cells) >= 2 else None
        return (list(near.cells), []) if near is not None and _are_names(near) else ([], [])
    last = fitting[-1]
    if len(fitting) > 1 and _are_units(last) and _are_names(fitting[-2]):
        return list(fitting[-2].cells[:width]), list(last.cells[:width])
    return (list(last.cells[:width]), []) if _are_names(last) else ([], [])


def _are_names(row: LogRow) -> bool:
    return sum(form_of(cell) is CellForm.OTHER for cell in row.cells) * 2 >= len(row.cells)


def _are_units(row: LogRow) -> bool:
    """Tell whether a line holds units: nothing but short words, most of them for a temperature or a time."""
    words = [cell.strip("[]()").lower() for cell in row.cells if cell.strip()]
    return bool(words) and all(len(word) <= 12 for word in words) and any(word in _UNITS for word in words)


_UNITS = {"°c", "°f", "degc", "degf", "deg c", "deg f", "c", "f", "k", "s", "sec", "min", "h", "hh:mm:ss", "mv", "µv"}
