"""What format a board speaks: our frames, plain columns and which of them is what, or named values.

Columns carry no names, so they are told by how they behave: a clock counts a thousand a second, a terminal sensor
stands near room temperature and hardly moves, the rest is the measurement, and its size says in which unit. That is a
guess, and said as one; with what was set beside it, it shows exchanged columns.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rampwarden.bench.finding import Sureness
from rampwarden.bench.lines import HeardLine, decode_lines
from rampwarden.bench.number_courses import FloatArray, counts_up, is_clock
from rampwarden.bench.recognise_names import recognise_names
from rampwarden.core.instrument import Column
from rampwarden.formats import NamedFormat

_SEPARATOR = re.compile(rb"[ \t]*[,;][ \t]*|[ \t]+")
_NUMBER = re.compile(rb"[+-]?\d{1,10}(?:\.\d{1,9})?")
# Half the lines, and at least three: the rest may be noise, a greeting, or a person's remark.
_FEWEST = 3
# Where terminals stand on a bench, °C, and how far a whole listening moves them.
_TERMINALS_C, _TERMINALS_MOVE_C = (-10.0, 60.0), 3.0
# A printed EMF in millivolts has decimals and, near room temperature, less than this, mV.
_SMALL_MV = 3.0


@dataclass(frozen=True, slots=True)
class Recognised:
    """The format that was found; `known` is false where nothing could be made of it.

    `columns` is empty for frames, `named` is there where values have names.
    """

    known: bool
    framed: bool
    columns: tuple[Column, ...] = ()
    sureness: Sureness = Sureness.CERTAIN
    named: NamedFormat | None = None


def recognise(lines: Sequence[HeardLine]) -> Recognised:
    """Find out what the lines are."""
    spoken = decode_lines(lines, None)
    of_ours = len(spoken.frames) + sum(spoken.channels.values()) + spoken.crc_failed + len(spoken.refused)
    if of_ours >= _FEWEST and of_ours * 2 >= len(lines):
        return Recognised(known=True, framed=True)
    table = _table(lines)
    if table is None:
        named = recognise_names(lines)
        sureness = Sureness.LIKELY if named and len(named.values) == 1 else Sureness.POSSIBLE
        return Recognised(known=named is not None, framed=False, sureness=sureness, named=named)
    arrived_s, values, whole = table
    columns, sureness = _name_columns(arrived_s, values, whole)
    return Recognised(known=True, framed=False, columns=columns, sureness=sureness)


def _table(lines: Sequence[HeardLine]) -> tuple[FloatArray, FloatArray, list[bool]] | None:
    """Give arrival times, the numbers of the lines that have the usual count of them, and which columns are whole."""
    rows = []
    for line in lines:
        fields = _SEPARATOR.split(line.text.strip(b" \t\r"))
        if all(_NUMBER.fullmatch(field) for field in fields):
            rows.append((line.arrived_s, fields))
    if not rows:
        return None
    count, times = Counter(len(fields) for _, fields in rows).most_common(1)[0]
    if times < _FEWEST or times * 2 < len(lines):
        return None
    rows = [row for row in rows if len(row[1]) == count]
    values = np.array([[float(field) for field in fields] for _, fields in rows])
    whole = [all(b"." not in fields[index] for _, fields in rows) for index in range(count)]
    return np.array([arrived_s for arrived_s, _ in rows]), values, whole


def _name_columns(
    arrived_s: FloatArray, values: FloatArray, whole: Sequence[bool]
) -> tuple[tuple[Column, ...], Sureness]:
    count = values.shape[1]
    names = [Column.SKIP] * count
    left = []
    for index in range(count):
        if is_clock(arrived_s, values[:, index], whole=whole[index]) and Column.MS not in names:
            names[index] = Column.MS
        elif not counts_up(values[:, index]):
            left.append(index)
    terminals = [index for index in left if _is_terminal_sensor(values[:, index])]
    measured = [index for index in left if index not in terminals]
    if len(terminals) >= 2 and not measured:
        # A chip that converts itself: terminals and tip alike in a cold furnace. What moves more is the tip.
        measured = [max(terminals, key=lambda index: float(np.std(values[:, index])))]
        terminals.remove(measured[0])
    if terminals:
        names[terminals[0]] = Column.JUNCTION_C
    if not measured:
        return tuple(names), Sureness.POSSIBLE
    junction_c = float(np.median(values[:, terminals[0]])) if terminals else None
    names[measured[0]] = _measurement(values[:, measured[0]], junction_c, whole=whole[measured[0]])
    is_plain = len(measured) == 1 and len(terminals) == 1
    return tuple(names), Sureness.LIKELY if is_plain else Sureness.POSSIBLE


def _is_terminal_sensor(values: FloatArray) -> bool:
    inside = np.all((values >= _TERMINALS_C[0]) & (values <= _TERMINALS_C[1])) and np.median(values) != 0.0
    jumps = np.abs(np.diff(values))
    return bool(inside and np.ptp(values) <= _TERMINALS_MOVE_C and np.median(jumps) <= 0.5 and np.mean(values) > 2.0)


def _measurement(values: FloatArray, junction_c: float | None, *, whole: bool) -> Column:
    middle, largest = float(np.median(values)), float(np.max(np.abs(values)))
    if junction_c is not None and abs(middle - junction_c) <= 10.0 and not whole:
        return Column.TEMP_C
    if junction_c is not None and abs(middle - (junction_c * 1.8 + 32.0)) <= 15.0 and not whole:
        return Column.TEMP_F
    if junction_c is None:
        return Column.TEMP_C
    if whole:
        return Column.ADC
    return Column.EMF_MV if largest <= _SMALL_MV else Column.EMF_UV
