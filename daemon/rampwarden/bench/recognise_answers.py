"""What the answers of a board that was asked may be: numbers, named values, registers of a bus.

A guess from a handful of answers of a cold furnace, and said as one.
"""

import struct
from collections.abc import Sequence
from statistics import median

from rampwarden.bench.lines import HeardLine
from rampwarden.bench.recognise_names import recognise_names
from rampwarden.core.instrument import Column, ColumnFormat
from rampwarden.formats import AnswerReader, NamedFormat, Unit, Word

# Where a cold furnace stands, and where any probe may, °C.
_COLD_C, _ANY_C = (-10.0, 60.0), (-60.0, 1900.0)
# What converters send for an open input: the ends of their scale, and numbers no probe reaches (common practice, no
# source).
_OPEN_COUNTS = (0x7FFF, -0x8000, -1, 0x7FFE, -9999, 9999, 30_000, 32_000)
_SCALES = (0.1, 1.0, 0.01)
_MOST_FIELDS = 32


def recognise_answers(answers: Sequence[bytes]) -> ColumnFormat | NamedFormat | None:
    """Give the format that reads the answers to one question; None if they are no temperatures."""
    if not answers:
        return None
    named = recognise_names([HeardLine(float(place), answer) for place, answer in enumerate(answers)])
    if named is not None:
        return named
    for count in range(1, _MOST_FIELDS + 1):
        columns = ColumnFormat((Column.TEMP_C,) * count)
        rounds = [AnswerReader(columns, 1).read([answer]) for answer in answers]
        if all(len(frames) == count for frames in rounds):
            temps_c = [frame.temp_c for frames in rounds for frame in frames if frame.temp_c is not None]
            likely = bool(temps_c) and all(_ANY_C[0] <= temp_c <= _ANY_C[1] for temp_c in temps_c)
            # Hundredths in every one of them are volts of a thermocouple, which nothing here could read.
            return columns if likely and max(map(abs, temps_c)) >= 0.5 else None
    return None


def recognise_registers(counts: Sequence[int], first: int) -> dict[str, object]:
    """Give the settings that make temperatures of registers, from `first` on, of which some numbers were read."""
    for order, low_first in (("high-first", False), ("low-first", True)):
        floats = _floats(counts, low_first=low_first)
        if floats and all(_ANY_C[0] <= value <= _ANY_C[1] and abs(value) > 1e-3 for value in floats):
            registers = [first + 2 * place for place in range(len(floats))]
            return {"registers": registers, "word": Word.FLOAT32.value, "word_order": order, "scale": 1.0}
    signed = [count - 0x10000 if count >= 0x8000 else count for count in counts]
    read = [count for count in signed if count not in _OPEN_COUNTS and count != 0]
    middle = median(read) if read else 0.0
    scale = next((scale for scale in _SCALES if _COLD_C[0] <= middle * scale <= _COLD_C[1]), 0.1)
    used = max((place for place, count in enumerate(signed) if count != 0), default=0) + 1
    found: dict[str, object] = {
        "registers": [first + place for place in range(used)],
        "word": Word.INT16.value,
        "word_order": "high-first",
        "scale": scale,
    }
    if open_values := sorted({count for count in signed[:used] if count in _OPEN_COUNTS}):
        found["open_values"] = open_values
    return found


def _floats(counts: Sequence[int], *, low_first: bool) -> list[float]:
    pairs = [counts[place : place + 2] for place in range(0, len(counts) - 1, 2)]
    values = []
    for pair in pairs:
        high, low = reversed(pair) if low_first else pair
        if high == low == 0:
            break  # unused from here on
        values.append(float(struct.unpack(">f", struct.pack(">HH", high, low))[0]))
    return values


def found_settings(found: ColumnFormat | NamedFormat) -> dict[str, object]:
    """Give the keys of [board] that make a format."""
    if isinstance(found, ColumnFormat):
        return {"format": "columns", "columns": [str(column) for column in found.columns]}
    keys: dict[str, object] = {"format": str(found.naming), "values": list(found.values)}
    if found.junction:
        keys["junction"] = list(found.junction)
    for key, name in (("ms", found.ms), ("fault", found.fault)):
        if name:
            keys[key] = name
    if found.unit is not Unit.C:
        keys["unit"] = found.unit.value
    return keys
