"""What each column of a log is taken for: by what its cells look like, and by what it is called.

Several columns may be the temperature, and a time without a unit may be seconds or minutes: neither is guessed.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from rampwarden.errors import ForeignLogError, LogQuestionError
from rampwarden.foreign_logs.cells import CellForm, form_of
from rampwarden.foreign_logs.table import LogTable

# So many rows show what a column holds.
_LOOKED_AT = 2000
_INDEX = re.compile(
    r"(?:no|nr|num|number|#|n|i|id|idx|index|record|rec|row|line|sample|scan|reading|lfd)\b\W*", re.IGNORECASE
)
_TIME = re.compile(
    r"\b(?:time|elapsed|sec|seconds?|secs|min|minutes?|mins|hours?|hrs?|h|t|s|ms|d|days?|zeit|sekunden?|dauer|temps|tempo|"
    r"timestamp|ts|uptime|epoch|unix)\b",
    re.IGNORECASE,
)
_TIME_UNITS = (
    ("ms", re.compile(r"(?:\b|_)(?:ms|msec|milliseconds?)\b", re.IGNORECASE)),
    ("s", re.compile(r"(?:\b|_)(?:s|sec|secs|seconds?|sek|sekunden?)\b", re.IGNORECASE)),
    ("min", re.compile(r"(?:\b|_)(?:min|mins|minutes?|minuten)\b", re.IGNORECASE)),
    ("h", re.compile(r"(?:\b|_)(?:h|hr|hrs|hours?|stunden?)\b", re.IGNORECASE)),
    ("d", re.compile(r"(?:\b|_)(?:d|days?)\b", re.IGNORECASE)),
)
UNIT_S = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
# Seconds since 1970 of this century, and what is no count of a heat's seconds; the same in milliseconds.
_EPOCH_S = (9.0e8, 4.2e9)
# A column that is called a time may have rows out of order; one without a name must look like nothing else.
_MOSTLY, _NEARLY_ALWAYS = 0.7, 0.98
# With steps as long as this nobody means minutes: a reading every ten minutes watches no ramp.
_LONG_STEP = 10.0
_OTHER_THINGS = re.compile(
    r"humid|feucht|\brh\b|%|volt|\bV\b|batt|akku|amp|current|set\s*-?point|\bsp\b|soll|target|output|power|duty|press|druck|"
    r"\bbar\b|flow|alarm|status|error|\bkg\b|weight|valve",
    re.IGNORECASE,
)
_JUNCTION = re.compile(r"junction|ambient|internal|cold|\bcj|room|raum|umgebung|board|\bair\b", re.IGNORECASE)
_EMF = re.compile(r"\b[mµu]V\b|microvolt|millivolt", re.IGNORECASE)
_TEMPERATURE = re.compile(
    r"temp|°|º|\bdeg|celsius|fahrenheit|\bT\d*\b|\btc\s*\d*\b|probe|thermo|channel|\bch\.?\s*\d|furnace|oven|\bpot\b|crucible|"
    r"ofen|tiegel|chamber|actual|value|wert|[\[(][CFK][\])]|_[cf]\b",
    re.IGNORECASE,
)
_SCALES = (
    ("F", re.compile(r"[°ºø˚]\s*F\b|\bdeg\.?\s*F\b|fahrenheit|[\[(]\s*F\s*[\])]|(?:^|[\s_])F$", re.IGNORECASE)),
    ("C", re.compile(r"[°ºø˚]\s*C\b|\bdeg\.?\s*C\b|celsius|[\[(]\s*C\s*[\])]|(?:^|[\s_])C$", re.IGNORECASE)),
    ("K", re.compile(r"\bkelvin|[\[(]\s*K\s*[\])]", re.IGNORECASE)),
)


class Role(StrEnum):
    """What a column is taken for."""

    MOMENT = "the date and the time"
    DATE = "the date"
    CLOCK = "the time of day"
    ELAPSED = "the time"
    TEMPERATURE = "the temperature"
    UNUSED = "not used"


@dataclass(frozen=True, slots=True)
class LogColumn:
    """One column: its place from 0, its name, what it is taken for and in which unit; `why` says more."""

    index: int
    name: str
    role: Role
    unit: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class ColumnChoices:
    """What a person has said of the columns: the temperature's by name or number, its scale, and the time's unit."""

    probe: str = ""
    scale: str = ""
    time_unit: str = ""


def columns_of(table: LogTable, before: Sequence[str], choices: ColumnChoices) -> tuple[LogColumn, ...]:
    """Take each column for something; `before` are the lines above the table.

    Raises `LogQuestionError` where a person has to choose, `ForeignLogError` where no time or temperature is found.
    """
    cells = [
        [row.cells[index] for row in table.rows[:_LOOKED_AT] if index < len(row.cells)]
        for index in range(len(table.names))
    ]
    forms = [_form(column) for column in cells]
    times = _times(table, cells, forms, choices)
    taken = {column.index for column in times}
    numbers = [index for index, form in enumerate(forms) if form is CellForm.NUMBER and index not in taken]
    probe = _probe(table, cells, numbers, choices)
    scale, why = _scale(table.names[probe], cells[probe], before, choices)
    found = {column.index: column for column in times}
    found[probe] = LogColumn(probe, table.names[probe], Role.TEMPERATURE, scale, why)
    return tuple(found.get(index, LogColumn(index, name, Role.UNUSED)) for index, name in enumerate(table.names))


def _form(cells: Sequence[str]) -> CellForm:
    """Give what most cells of a column look like."""
    counts = Counter(form for cell in cells if (form := form_of(cell)) is not CellForm.BLANK)
    return counts.most_common(1)[0][0] if counts else CellForm.BLANK


def _times(
    table: LogTable, cells: Sequence[Sequence[str]], forms: Sequence[CellForm], choices: ColumnChoices
) -> list[LogColumn]:
    """Give the column or the two that tell the time."""
    first = {form: forms.index(form) for form in (CellForm.MOMENT, CellForm.DATE, CellForm.CLOCK) if form in forms}
    if CellForm.MOMENT in first:
        return [LogColumn(first[CellForm.MOMENT], table.names[first[CellForm.MOMENT]], Role.MOMENT)]
    if CellForm.CLOCK in first:
        clock = LogColumn(first[CellForm.CLOCK], table.names[first[CellForm.CLOCK]], Role.CLOCK)
        if CellForm.DATE in first:
            return [LogColumn(first[CellForm.DATE], table.names[first[CellForm.DATE]], Role.DATE), clock]
        return [clock]
    counting = [
        index
        for index, form in enumerate(forms)
        if form is CellForm.NUMBER and not _INDEX.fullmatch(table.names[index])
    ]
    called = [
        index
        for index in counting
        if _TIME.search(table.names[index].replace("_", " ")) and _runs_one_way(cells[index], _MOSTLY)
    ]
    nameless = [index for index in counting if not table.named and _runs_one_way(cells[index], _NEARLY_ALWAYS)]
    chosen = [*called, *nameless][:1]
    if not chosen:
        raise ForeignLogError(
            "no column tells the time: none holds times or dates, and none that is called a time counts up; "
            "name the columns: --csv time=COLUMN,temp_c=COLUMN"
        )
    return [_elapsed(chosen[0], table.names[chosen[0]], cells[chosen[0]], choices)]


def _runs_one_way(cells: Sequence[str], share: float) -> bool:
    """Tell whether a column's numbers rise from row to row, or fall, in so great a share of its steps."""
    values = _plain_numbers(cells)
    steps = [after - before for before, after in pairwise(values)]
    rising, falling = sum(step >= 0 for step in steps), sum(step <= 0 for step in steps)
    return len(values) > 1 and max(rising, falling) >= share * len(steps) and values[-1] != values[0]


def _plain_numbers(cells: Sequence[str]) -> list[float]:
    found = []
    for cell in cells:
        try:
            found.append(float(cell.replace(",", ".")))
        except ValueError:
            continue
    return found


def _elapsed(index: int, name: str, cells: Sequence[str], choices: ColumnChoices) -> LogColumn:
    values = _plain_numbers(cells)
    if choices.time_unit:
        return LogColumn(index, name, Role.ELAPSED, choices.time_unit)
    if _EPOCH_S[0] < values[0] < _EPOCH_S[1]:
        return LogColumn(index, name, Role.ELAPSED, "s", "seconds since 1970")
    if _EPOCH_S[0] < values[0] / 1000.0 < _EPOCH_S[1]:
        return LogColumn(index, name, Role.ELAPSED, "ms", "milliseconds since 1970")
    for unit, pattern in _TIME_UNITS:
        if pattern.search(name):
            return LogColumn(index, name, Role.ELAPSED, unit)
    steps = sorted(abs(after - before) for before, after in pairwise(values))
    step = steps[len(steps) // 2]
    if step >= _LONG_STEP:
        return LogColumn(index, name, Role.ELAPSED, "s", f"a step of {step:g} can only be seconds")
    raise LogQuestionError(
        f"{name!r} counts in steps of {step:g}, and nothing says of what",
        (("--time-unit s", "seconds"), ("--time-unit min", "minutes"), ("--time-unit h", "hours")),
    )


def _probe(table: LogTable, cells: Sequence[Sequence[str]], numbers: Sequence[int], choices: ColumnChoices) -> int:
    """Give the temperature's column."""
    names = table.names
    if choices.probe:
        return _chosen(names, numbers, choices.probe)
    fit = [
        index
        for index in numbers
        if not (_OTHER_THINGS.search(names[index]) or _JUNCTION.search(names[index]) or _EMF.search(names[index]))
        and not (table.named and _INDEX.fullmatch(names[index]))
    ]
    called = [index for index in fit if _TEMPERATURE.search(names[index])]
    # A channel to which nothing is wired stands at nought.
    chosen = [index for index in called or fit if any(_plain_numbers(cells[index]))] or called or fit
    if len(chosen) == 1:
        return chosen[0]
    if not chosen:
        emf = [names[index] for index in numbers if _EMF.search(names[index])]
        if emf:
            raise ForeignLogError(
                f"{emf[0]!r} is an EMF, which alone is no temperature; name the columns and the reference junction: "
                f"--csv 'time=COLUMN,emf_mv={emf[0]}' --junction 22"
            )
        raise ForeignLogError("no column holds a temperature; name the columns: --csv time=COLUMN,temp_c=COLUMN")
    raise LogQuestionError(
        "several columns may be the temperature",
        tuple((f"--probe {_shell(names[index])}", _span(cells[index])) for index in chosen),
    )


def _chosen(names: Sequence[str], numbers: Sequence[int], wanted: str) -> int:
    """Give the column a person named: by its name, by part of it, or by its number from 1."""
    folded = wanted.casefold().strip()
    exact = [index for index in numbers if names[index].casefold() == folded]
    part = [index for index in numbers if folded and folded in names[index].casefold()]
    if len(exact or part) == 1:
        return (exact or part)[0]
    if wanted.isdecimal() and int(wanted) - 1 in numbers:
        return int(wanted) - 1
    known = ", ".join(repr(names[index]) for index in numbers) or "none"
    raise ForeignLogError(f"--probe {wanted!r}: no one column of numbers is called so; there are: {known}")


def _span(cells: Sequence[str]) -> str:
    values = _plain_numbers(cells)
    return f"{min(values):g} to {max(values):g}" if values else "no numbers"


def _shell(name: str) -> str:
    return name if re.fullmatch(r"[\w.-]+", name) else "'" + name.replace("'", "'\\''") + "'"


def _scale(name: str, cells: Sequence[str], before: Sequence[str], choices: ColumnChoices) -> tuple[str, str]:
    """Give the temperature's scale, and why where its own name does not say it."""
    if choices.scale:
        return choices.scale, ""
    for scale, pattern in _SCALES:
        if pattern.search(name):
            return scale, ""
    for scale in ("F", "C"):
        if any(re.search(rf"\d\s*[°ºø˚]?\s*{scale}$", cell.strip(), re.IGNORECASE) for cell in cells):
            return scale, "as its cells say"
    above = [scale for scale, pattern in _SCALES[:2] if any(pattern.search(line) for line in before)]
    if len(above) == 1:
        return above[0], "as a line above the names says"
    return "C", "nothing in the file says so; if it is °F: --unit F"
