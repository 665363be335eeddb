"""Turns the board's bytes into frames. Owns the two line formats; reads no port and does not date or judge a frame.

Policy
- A line ends at a newline, a carriage return before it is optional, and a blank line means nothing.
- Nothing raises. A line that cannot be read is counted in `garbled`, its beginning kept in `sample` for a person to
  see, and decoding goes on with the next line. However the bytes were cut into calls, the same frames come out.
- Framed lines: `$TC,<channel>,<seq>,<ms>,<emf_nv>,<junction_mc>,<flags hex>*<CRC hex>`. The CRC decides, and the ranges
  are still checked after it, since a board can be wrong with a right checksum. A line is read from its last `$`, so
  that a lost newline costs one frame and not two.
- Column lines have no checksum. The exact number of fields, a strict form of number and ranges stand in for it:
  `float()` would take `nan`, `1_0`, `inf` and sixty digits.
- The first line after an opening is usually the end of one. It is dropped without being counted, except for a framed
  line whose CRC is right; half a column line can look like a whole one (`345` of `12.345`).
- A line longer than LONGEST_LINE is thrown away up to the next newline and counts once, so no stream can eat memory.
"""

import math
import re
from abc import ABC, abstractmethod
from binascii import crc_hqx
from dataclasses import dataclass
from enum import StrEnum

from msgspec import Struct

from rampwarden.core.model import Fault
from rampwarden.errors import SettingsError

# The longest framed line has 50 bytes; a hobby sketch that prints a dozen columns stays under 150. At 9600 baud the
# bound is half a second of line, so a newline lost to noise is made up for within one or two readings.
LONGEST_LINE = 512

# What is kept of a line that could not be read: enough to recognise it by, short enough for a notice.
_SAMPLE_LENGTH = 64

# No thermocouple gives more than 77 mV (type E at 1000 °C, NIST Monograph 175); an open input may drive a converter to
# its full scale, which is ±256 mV on common ones (common practice, no source).
_EMF_BOUND_UV = 300_000.0
# Temperature sensors beside the terminals span -55 to 150 °C at most (common practice, no source).
_JUNCTION_LOWEST_C, _JUNCTION_HIGHEST_C = -100.0, 200.0
# Below absolute zero or above any thermocouple of the standard (type B ends at 1820 °C, IEC 60584-1), with room for a
# board that converts an open input.
_TEMP_LOWEST_C, _TEMP_HIGHEST_C = -300.0, 3000.0
_MS_BOUND = 2**32 - 1
_SEQ_BOUND = 2**16 - 1

_FRAME = re.compile(
    rb"\$(TC,(\d{1,2}),(\d{1,5}),(\d{1,10}),(-?\d{1,9}),(-?\d{1,6}),([0-9A-Fa-f]{1,2}))\*([0-9A-Fa-f]{4})\r?"
)
_NUMBER = re.compile(rb"[+-]?\d{1,10}(?:\.\d{1,9})?")
_FAULT_OF_BIT = (Fault.OPEN, Fault.SHORT_GROUND, Fault.SHORT_SUPPLY, Fault.CONVERTER, Fault.JUNCTION)


class Frame(Struct, frozen=True, gc=False):
    """One line of the board as numbers: EMF in µV, temperatures in °C, `board_ms` on the board's own clock.

    What the board did not send is None. Beside a fault stands what the board measured all the same; `faults` says that
    it is not to be believed.
    """

    channel: int = 0
    seq: int | None = None
    board_ms: int | None = None
    emf_uv: float | None = None
    temp_c: float | None = None
    junction_c: float | None = None
    faults: tuple[Fault, ...] = ()


class Column(StrEnum):
    """What a column of a plain line holds."""

    EMF_UV = "emf_uv"
    EMF_MV = "emf_mv"
    ADC = "adc"
    TEMP_C = "temp_c"
    TEMP_F = "temp_f"
    JUNCTION_C = "junction_c"
    MS = "ms"
    SKIP = "skip"


class Delimiter(StrEnum):
    """What stands between columns. ANY takes a comma, a semicolon, or any run of spaces and tabs."""

    ANY = "any"
    COMMA = "comma"
    SEMICOLON = "semicolon"
    TAB = "tab"
    SPACE = "space"


_SEPARATORS = {
    Delimiter.ANY: re.compile(rb"[ \t]*[,;][ \t]*|[ \t]+"),
    Delimiter.COMMA: re.compile(rb"[ \t]*,[ \t]*"),
    Delimiter.SEMICOLON: re.compile(rb"[ \t]*;[ \t]*"),
    Delimiter.TAB: re.compile(rb" *\t *"),
    Delimiter.SPACE: re.compile(rb" +"),
}
_MEASURED = frozenset({Column.EMF_UV, Column.EMF_MV, Column.ADC, Column.TEMP_C, Column.TEMP_F})
_TEMPERATURES = frozenset({Column.TEMP_C, Column.TEMP_F})


@dataclass(frozen=True, slots=True)
class AdcScaling:
    """How a converter's code becomes an EMF: `code / 2**bits * reference_v / gain`, less `offset_uv`.

    `reference_v` is the voltage of a full-scale code, V; `bits` the converter's resolution without its sign bit;
    `gain` that of the amplifier before it; `offset_uv` what a shorted input shows, referred to the input, µV.
    """

    reference_v: float
    bits: int
    gain: float = 1.0
    offset_uv: float = 0.0

    def __post_init__(self) -> None:
        is_gain = 0 < abs(self.gain) <= 1e6
        if not (0 < self.reference_v <= 100 and 1 <= self.bits <= 32 and is_gain and math.isfinite(self.offset_uv)):
            raise SettingsError(
                f"board scaling: {self.reference_v:g} V, {self.bits} bits, gain {self.gain:g}, offset "
                f"{self.offset_uv:g} µV; needs up to 100 V, 1 to 32 bits, a gain not zero and a finite offset"
            )

    def emf_uv(self, code: float) -> float:
        """Give the EMF at the amplifier's input, µV, for a converter's code."""
        return code / float(1 << self.bits) * self.reference_v / self.gain * 1e6 - self.offset_uv


@dataclass(frozen=True, slots=True)
class ColumnFormat:
    """What the columns of a plain line mean.

    One column is the measurement, or several of one kind are, each a channel, counted from 0 in their order; an EMF
    needs `junction_c` beside it, an `adc` its `scaling`.
    `single_slope_uv_per_c` undoes a converter that took a straight line for the thermocouple (41.276 µV/°C is the usual
    one for type K): its temperature becomes an EMF again, for the reference function to convert.
    """

    columns: tuple[Column, ...]
    delimiter: Delimiter = Delimiter.ANY
    scaling: AdcScaling | None = None
    single_slope_uv_per_c: float | None = None

    def __post_init__(self) -> None:
        listed = f"[{', '.join(self.columns)}]"
        known = [column for column in self.columns if column is not Column.SKIP]
        measured = [column for column in known if column in _MEASURED]
        beside = [column for column in known if column not in _MEASURED]
        if len(beside) != len(set(beside)):
            raise SettingsError(f"board columns {listed}: a column stands twice; name one 'skip'")
        if len(set(measured)) != 1:
            wanted = "exactly one of emf_uv, emf_mv, adc, temp_c, temp_f (once for each probe); name the others 'skip'"
            raise SettingsError(f"board columns {listed}: needs {wanted}")
        if (Column.ADC in known) != (self.scaling is not None):
            raise SettingsError(f"board columns {listed}: 'adc' and its scaling (reference_v, bits …) belong together")
        is_temperature = measured[0] in _TEMPERATURES
        if Column.JUNCTION_C not in known and (not is_temperature or self.single_slope_uv_per_c is not None):
            raise SettingsError(
                f"board columns {listed}: needs 'junction_c', since an EMF means a temperature only together "
                "with that of the reference junction"
            )
        if self.single_slope_uv_per_c is not None and not (is_temperature and 1 <= self.single_slope_uv_per_c <= 100):
            raise SettingsError(
                f"board single_slope_uv_per_c {self.single_slope_uv_per_c:g}: is for a 'temp_c' or 'temp_f' column and "
                "between 1 and 100 µV/°C"
            )


class LineDecoder(ABC):
    """Cuts bytes into lines and counts what cannot be read; a format says what a line means.

    `garbled` counts lines since the decoder was made; `sample` is the beginning of the latest one. `words` says what
    was wrong with it and `unwanted` why a line that could be read had nothing for us, where the format can tell.
    """

    longest_line = LONGEST_LINE
    _first_line_may_count: bool

    def __init__(self) -> None:
        self.garbled = 0
        self.sample = b""
        self.words = ""
        self.unwanted = ""
        self._tail = b""
        self._skipping = False
        self._first_line_due = False

    def feed(self, data: bytes) -> list[Frame]:
        """Take the next bytes, cut anywhere and as many as there are, and give the frames they complete, in order.

        A frame carries µV or °C, and the junction's °C where the board sends it; the last, unfinished line is kept for
        the next call. Raises nothing: a line that cannot be read, or is too long, is counted and skipped.
        """
        lines = (self._tail + data).split(b"\n")
        self._tail = lines.pop()
        if self._skipping and lines:
            del lines[0]
            self._skipping = False
        frames: list[Frame] = []
        for line in lines:
            found: tuple[Frame, ...] | None = None
            if len(line) > self.longest_line:
                self.words = ""
                self._garble(line)
            elif self._first_line_due:
                found = self._decode_first(line)
            else:
                found = self._decode(line)
                if found is None and line.strip():
                    self._garble(line)
            self._first_line_due = False
            if found:
                frames += found
        self._bound_tail()
        return frames

    def resynchronise(self) -> None:
        """Forget half a line: the port was opened again, and the next line may be the end of another."""
        self._tail = b""
        self._skipping = False
        self._first_line_due = True

    @abstractmethod
    def _decode(self, line: bytes) -> tuple[Frame, ...] | None:
        """Read one line without its newline, a frame a channel; None if it does not parse, () if none of it is ours."""

    def _decode_first(self, line: bytes) -> tuple[Frame, ...] | None:
        kept = self.garbled, self.sample, self.words
        found = self._decode(line) if self._first_line_may_count else None
        self.garbled, self.sample, self.words = kept
        return found

    def _bound_tail(self) -> None:
        if self._skipping:
            self._tail = b""
        elif len(self._tail) > self.longest_line:
            self.words = ""
            self._garble(self._tail)
            self._tail = b""
            self._skipping = True
            self._first_line_due = False

    def _garble(self, line: bytes) -> None:
        self.garbled += 1
        self.sample = line[:_SAMPLE_LENGTH]


class FrameDecoder(LineDecoder):
    """Decodes the framed format.

    The CRC-16/XMODEM (polynomial 0x1021, start 0, no reflection, no final inversion) covers the bytes between `$` and
    `*`, neither included.
    """

    _first_line_may_count = True

    def _decode(self, line: bytes) -> tuple[Frame, ...] | None:
        start = line.rfind(b"$")
        match = _FRAME.fullmatch(line, max(start, 0))
        if match is None:
            return None
        body, channel, seq, ms, emf_nv, junction_mc, flags, crc = match.groups()
        if crc_hqx(body, 0) != int(crc, 16):
            return None
        seq_number, board_ms = int(seq), int(ms)
        emf_uv, junction_c = int(emf_nv) / 1e3, int(junction_mc) / 1e3
        if (
            seq_number > _SEQ_BOUND
            or board_ms > _MS_BOUND
            or not -_EMF_BOUND_UV <= emf_uv <= _EMF_BOUND_UV
            or not _JUNCTION_LOWEST_C <= junction_c <= _JUNCTION_HIGHEST_C
        ):
            return None
        if start > 0:
            self._garble(line)
        faults = _FAULTS_OF_FLAGS[int(flags, 16)]
        return (Frame(int(channel), seq_number, board_ms, emf_uv, None, junction_c, faults),)


class ColumnDecoder(LineDecoder):
    """Decodes plain delimited numbers as `column_format` says."""

    _first_line_may_count = False

    def __init__(self, column_format: ColumnFormat) -> None:
        super().__init__()
        self._format = column_format
        self._count = len(column_format.columns)
        self._separator = _SEPARATORS[column_format.delimiter]
        measured = [index for index, column in enumerate(column_format.columns) if column in _MEASURED]
        self._wanted = [
            (index, column, *_bounds(column, column_format.scaling))
            for index, column in enumerate(column_format.columns)
            if column is not Column.SKIP and index not in measured[1:]
        ]
        self._further = [(channel, index) for channel, index in enumerate(measured) if channel]

    def _decode(self, line: bytes) -> tuple[Frame, ...] | None:
        fields = self._separator.split(line.strip(b" \r" if self._format.delimiter is Delimiter.TAB else b" \t\r"))
        if len(fields) != self._count:
            return None
        values: dict[Column, float] = {}
        for index, column, lowest, highest in self._wanted:
            value = _number(fields[index], lowest, highest)
            if value is None or (column is Column.MS and not value.is_integer()):
                return None
            values[column] = value
        frame = self._frame(values)
        return frame if frame is None or not self._further else self._with_further(frame, values, fields)

    def _with_further(
        self, first: tuple[Frame], values: dict[Column, float], fields: list[bytes]
    ) -> tuple[Frame, ...] | None:
        """Give the frames of all channels: the other measurements, each with the clock and junction of the line."""
        frames: tuple[Frame, ...] = first
        for channel, index in self._further:
            column = self._format.columns[index]
            value = _number(fields[index], *_bounds(column, self._format.scaling))
            frame = None if value is None else self._frame(values | {column: value}, channel)
            if frame is None:
                return None
            frames += frame
        return frames

    def _frame(self, values: dict[Column, float], channel: int = 0) -> tuple[Frame] | None:
        junction_c = values.get(Column.JUNCTION_C)
        ms = values.get(Column.MS)
        board_ms = None if ms is None else int(ms)
        emf_uv = self._emf_uv(values)
        if emf_uv is None:
            return (Frame(channel, board_ms=board_ms, temp_c=_temp_c(values), junction_c=junction_c),)
        if not -_EMF_BOUND_UV <= emf_uv <= _EMF_BOUND_UV:
            return None
        return (Frame(channel, board_ms=board_ms, emf_uv=emf_uv, junction_c=junction_c),)

    def _emf_uv(self, values: dict[Column, float]) -> float | None:
        if Column.EMF_UV in values:
            return values[Column.EMF_UV]
        if Column.EMF_MV in values:
            return values[Column.EMF_MV] * 1e3
        if self._format.scaling is not None:
            return self._format.scaling.emf_uv(values[Column.ADC])
        if self._format.single_slope_uv_per_c is not None:
            return (_temp_c(values) - values[Column.JUNCTION_C]) * self._format.single_slope_uv_per_c
        return None


def _number(field: bytes, lowest: float, highest: float) -> float | None:
    if _NUMBER.fullmatch(field) is None:
        return None
    value = float(field)
    return value if lowest <= value <= highest else None


def _temp_c(values: dict[Column, float]) -> float:
    if Column.TEMP_F in values:
        return (values[Column.TEMP_F] - 32.0) * 5.0 / 9.0
    return values[Column.TEMP_C]


def _bounds(column: Column, scaling: AdcScaling | None) -> tuple[float, float]:
    """Give the lowest and highest number that a column may hold, in the column's own unit."""
    if column is Column.ADC and scaling is not None:
        return -float(2**scaling.bits), float(2**scaling.bits)
    return {
        Column.EMF_UV: (-_EMF_BOUND_UV, _EMF_BOUND_UV),
        Column.EMF_MV: (-_EMF_BOUND_UV / 1e3, _EMF_BOUND_UV / 1e3),
        Column.TEMP_C: (_TEMP_LOWEST_C, _TEMP_HIGHEST_C),
        Column.TEMP_F: (_TEMP_LOWEST_C * 1.8 + 32.0, _TEMP_HIGHEST_C * 1.8 + 32.0),
        Column.JUNCTION_C: (_JUNCTION_LOWEST_C, _JUNCTION_HIGHEST_C),
        Column.MS: (0.0, float(_MS_BOUND)),
    }[column]


def _faults_of(flags: int) -> tuple[Fault, ...]:
    """Give the faults of a flags byte; a bit without a meaning yet is better doubted than overlooked."""
    faults = [fault for bit, fault in enumerate(_FAULT_OF_BIT) if flags >> bit & 1]
    if flags >> len(_FAULT_OF_BIT) and Fault.CONVERTER not in faults:
        faults.append(Fault.CONVERTER)
    return tuple(faults)


_FAULTS_OF_FLAGS = tuple(_faults_of(flags) for flags in range(256))
