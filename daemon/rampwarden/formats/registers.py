"""Registers of a bus as temperatures: what stands where, in which form, and what a count means.

Modbus application protocol V1.1b3: registers have 16 bits, the high byte first (4.2), are addressed from 0 (4.4), and
one request reads at most 125 of them (6.3, 6.4). Which of two registers holds the high half of a long number is not
said there, and makers do either.
"""

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from rampwarden.core.instrument import Frame
from rampwarden.core.model import Fault
from rampwarden.errors import SettingsError
from rampwarden.formats.named import MOST_CHANNELS, measured_frame
from rampwarden.formats.units import Unit, celsius

MOST_REGISTERS = 125
_LAST_REGISTER = 0xFFFF
_JUNCTION_C = (-100.0, 200.0)


class Word(StrEnum):
    """What form a value has."""

    INT16 = "int16"
    UINT16 = "uint16"
    INT32 = "int32"
    UINT32 = "uint32"
    FLOAT32 = "float32"

    @property
    def registers(self) -> int:
        """How many registers it takes."""
        return 1 if self in (Word.INT16, Word.UINT16) else 2


_STRUCT = {Word.INT16: ">h", Word.UINT16: ">H", Word.INT32: ">i", Word.UINT32: ">I", Word.FLOAT32: ">f"}


@dataclass(frozen=True, slots=True)
class RegisterMap:
    """Which registers of which slave hold what: `registers` are the first of each channel's value, counted from 0.

    A value is its count × `scale`, in `unit`; `junction_registers` hold the reference junction, °C, none, one for
    all or one each, in the same form and scale. `open_values` are counts, as they are read, that stand for an open
    thermocouple. With `low_word_first` the first of two registers holds the low half.
    """

    registers: tuple[int, ...]
    slave: int = 1
    function: int = 4
    word: Word = Word.INT16
    low_word_first: bool = False
    scale: float = 1.0
    unit: Unit = Unit.C
    junction_registers: tuple[int, ...] = ()
    open_values: tuple[float, ...] = ()
    answer_within_s: float = 1.0

    def __post_init__(self) -> None:
        if not 1 <= len(self.registers) <= MOST_CHANNELS:
            raise SettingsError(
                f"board registers: name the first register of 1 to {MOST_CHANNELS} values, counted from 0 (a sheet "
                "that counts from 30001 or 40001 is that much ahead)"
            )
        every = (*self.registers, *self.junction_registers)
        if not all(0 <= register <= _LAST_REGISTER + 1 - self.word.registers for register in every):
            raise SettingsError(f"board registers: {max(every)} is outside 0 to {_LAST_REGISTER}")
        taken = [register + part for register in self.registers for part in range(self.word.registers)]
        twice = [register for register in taken if taken.count(register) > 1]
        if twice:
            raise SettingsError(
                f"board registers: {twice[0]} belongs to two values; {self.word} takes {self.word.registers}"
            )
        if len(self.junction_registers) not in (0, 1, len(self.registers)):
            raise SettingsError(
                f"board junction_registers: {len(self.junction_registers)} for {len(self.registers)} values; none, one "
                "for all, or one each"
            )
        if self.count > MOST_REGISTERS:
            raise SettingsError(
                f"board registers: {self.first} to {self.first + self.count - 1} are {self.count}, and one request "
                f"reads at most {MOST_REGISTERS}"
            )
        if self.unit.is_voltage and not self.junction_registers:
            raise SettingsError(
                f"board unit {self.unit.value}: needs junction_registers, since an EMF means a temperature only "
                "together with that of the reference junction"
            )

    @property
    def first(self) -> int:
        """The first register that is asked for."""
        return min((*self.registers, *self.junction_registers))

    @property
    def count(self) -> int:
        """How many registers are asked for, those between included."""
        return max((*self.registers, *self.junction_registers)) + self.word.registers - self.first

    def frames(self, counts: Sequence[int]) -> tuple[list[Frame], str]:
        """Give a frame a channel from the registers that were asked for, and in words what was wrong with any.

        `counts` are `count` numbers of 16 bits, from `first` on.
        """
        frames, words = [], ""
        for channel, register in enumerate(self.registers):
            frame = self._frame(channel, register, counts)
            if isinstance(frame, str):
                words = f"register {register} {frame}"
            else:
                frames.append(frame)
        return frames, words

    def _frame(self, channel: int, register: int, counts: Sequence[int]) -> Frame | str:
        value = self._value(register, counts)
        junction_c: float | None = None
        if self.junction_registers:
            at = self.junction_registers[channel if len(self.junction_registers) > 1 else 0]
            raw = self._value(at, counts) * self.scale
            junction_c = round(raw if self.unit.is_voltage else celsius(raw, self.unit), 6)
            if not _JUNCTION_C[0] <= junction_c <= _JUNCTION_C[1]:
                return f"has a reference junction of {junction_c:g} °C beside it"
        if value in self.open_values:
            return Frame(channel, junction_c=junction_c, faults=(Fault.OPEN,))
        if not math.isfinite(value):
            return Frame(channel, junction_c=junction_c, faults=(Fault.CONVERTER,))
        return measured_frame(channel, value * self.scale, self.unit, junction_c, None, ())

    def _value(self, register: int, counts: Sequence[int]) -> float:
        at = register - self.first
        words = list(counts[at : at + self.word.registers])
        if self.low_word_first:
            words.reverse()
        packed = b"".join(word.to_bytes(2, "big") for word in words)
        return float(struct.unpack(_STRUCT[self.word], packed)[0])
