"""Lines in which each value stands under a name: what labelled text and JSON have in common.

Policy
- What is wanted is named in the settings; all else in a line is passed over. A line without any wanted name is no
  garbage, but gives nothing, and `unwanted` says what names it has instead.
- A name that stands twice in a line is refused: nobody knows which of the two is meant.
- The unit that a line names counts; where it names none, the one that is set. One that is neither a temperature nor a
  voltage is refused in words.
- Junction and clock may stand in a line of their own before the value's: they are kept for it, and for it alone.
- A value that cannot be believed costs its own channel, not the line's others.
"""

import math
from abc import abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from rampwarden.core.instrument import Frame, LineDecoder
from rampwarden.core.model import Fault
from rampwarden.errors import SettingsError
from rampwarden.formats.units import FINE_WORDS, Item, Unit, celsius, fault_word, microvolts

MOST_CHANNELS = 32
# The bounds of our own formats: see the core's framing.
_EMF_BOUND_UV = 300_000.0
_JUNCTION_C = (-100.0, 200.0)
_TEMP_C = (-300.0, 3000.0)
_MS_BOUND = 2**32 - 1
_NAMES_SHOWN = 8
# What a scale or another unit adds behind these is arithmetic, and would stand in every line of a record.
_DIGITS = 6


class Naming(StrEnum):
    """How a line puts names and values together."""

    LABELS = "labels"
    JSON = "json"


@dataclass(frozen=True, slots=True)
class NamedFormat:
    """Which names of a line are wanted, one value a channel: its position is the channel's number.

    `junction` is the reference junction's name: none, one for all, or one a channel. `ms` names the board's clock in
    milliseconds, `fault` what tells whether something is wrong (0, false, "ok": nothing). `unit` holds where the line
    names none. `open_values` are numbers that stand for an open thermocouple.
    """

    naming: Naming
    values: tuple[str, ...]
    junction: tuple[str, ...] = ()
    ms: str = ""
    fault: str = ""
    unit: Unit = Unit.C
    open_values: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        what = "keys" if self.naming is Naming.JSON else "labels"
        if not 1 <= len(self.values) <= MOST_CHANNELS or not all(self.values):
            raise SettingsError(
                f"board values: name the {what} of 1 to {MOST_CHANNELS} temperatures, as in values = "
                '["T1"]; rampwarden board --port … tells what a board sends'
            )
        others = [name for name in (self.ms, self.fault) if name]
        twice = [name for name in self.values if self.values.count(name) > 1]
        twice += [name for name in (*self.junction, *others) if name in self.values]
        if twice:
            raise SettingsError(f"board values: {twice[0]!r} is named twice; each name has one meaning")
        if len(self.junction) not in (0, 1, len(self.values)):
            raise SettingsError(
                f"board junction: {len(self.junction)} names for {len(self.values)} values; "
                "none, one for all, or one each"
            )
        if self.unit.is_voltage and not self.junction:
            raise SettingsError(
                f"board unit {self.unit.value}: needs 'junction', since an EMF means a temperature only together with "
                "that of the reference junction"
            )

    def junction_of(self, channel: int) -> str:
        """Give the name of a channel's reference junction; empty for none."""
        if not self.junction:
            return ""
        return self.junction[channel if len(self.junction) > 1 else 0]

    @property
    def names(self) -> tuple[str, ...]:
        """Every name that is wanted."""
        return tuple(dict.fromkeys(name for name in (*self.values, *self.junction, self.ms, self.fault) if name))


class NamedDecoder(LineDecoder):
    """Decodes lines of named values; how the names are found is the kind's business."""

    _first_line_may_count = False

    def __init__(self, named: NamedFormat) -> None:
        super().__init__()
        self._named = named
        self._kept: dict[str, Item] = {}

    @abstractmethod
    def find(self, line: bytes) -> Mapping[str, Item | str] | None:
        """Give what stands under each wanted name, or in words why it cannot be read; None if it is no such line."""

    @abstractmethod
    def names_in(self, line: bytes) -> tuple[str, ...]:
        """Give the names that a line has, to tell a person."""

    def resynchronise(self) -> None:
        """Forget half a line, and what was kept for the next."""
        super().resynchronise()
        self._kept = {}

    def _decode(self, line: bytes) -> tuple[Frame, ...] | None:
        self.words = ""
        if not line.strip():
            return None
        found = self.find(line)
        if found is None:
            return None
        items = {name: item for name, item in found.items() if isinstance(item, Item)}
        for name, item in found.items():
            if isinstance(item, str):
                self.words = f"{_quoted(name)} {item}"
        wanted = [channel for channel, name in enumerate(self._named.values) if name in found]
        if not wanted:
            self._kept |= items
            if not found:
                self.unwanted = self._no_such_name(line)
            return None if self.words else ()
        items = self._kept | items
        self._kept = {}
        board_ms = self._board_ms(items.get(self._named.ms))
        said = self._said_fault(items.get(self._named.fault))
        frames = [self._frame(channel, items, board_ms, said) for channel in wanted]
        self.unwanted = ""
        kept = tuple(frame for frame in frames if frame is not None)
        if kept and len(kept) < len(wanted):
            self._garble(line)
        return kept or None

    def _no_such_name(self, line: bytes) -> str:
        names = self.names_in(line)
        what = "key" if self._named.naming is Naming.JSON else "label"
        listed = ", ".join(_quoted(name) for name in names[:_NAMES_SHOWN]) or "none"
        return f"lines come, but without the {what} {_quoted(self._named.values[0])} (they have: {listed})"

    def _board_ms(self, item: Item | None) -> int | None:
        if item is None or item.value is None or not 0 <= item.value <= _MS_BOUND:
            return None
        return int(item.value)

    def _said_fault(self, item: Item | None) -> tuple[Fault, ...]:
        if item is None or item.value == 0.0 or item.text.strip().lower() in FINE_WORDS:
            return ()
        return (item.fault or fault_word(item.text) or Fault.CONVERTER,)

    def _frame(
        self, channel: int, items: Mapping[str, Item], board_ms: int | None, said: tuple[Fault, ...]
    ) -> Frame | None:
        name = self._named.values[channel]
        item = items.get(name)
        if item is None:
            return None
        if item.is_truth:
            self.words = f"{_quoted(name)} is {item.text}, no number"
            return None
        junction_c = self._junction_c(self._named.junction_of(channel), items)
        if isinstance(junction_c, str):
            self.words = junction_c
            return None
        if item.fault is not None or item.value is None:
            return Frame(channel, board_ms=board_ms, junction_c=junction_c, faults=(item.fault or Fault.CONVERTER,))
        if item.value in self._named.open_values:
            said = (Fault.OPEN,)
        measured = measured_frame(channel, item.value, item.unit or self._named.unit, junction_c, board_ms, said)
        if isinstance(measured, str):
            self.words = f"{_quoted(name)} {measured}"
            return None
        return measured

    def _junction_c(self, name: str, items: Mapping[str, Item]) -> float | str | None:
        item = items.get(name)
        if not name or item is None or item.value is None:
            return None
        unit = item.unit or (Unit.C if self._named.unit.is_voltage else self._named.unit)
        if unit.is_voltage:
            return f"{_quoted(name)} is a voltage, and a reference junction is a temperature"
        junction_c = round(celsius(item.value, unit), _DIGITS)
        if not _JUNCTION_C[0] <= junction_c <= _JUNCTION_C[1]:
            return f"{_quoted(name)} is {junction_c:.0f} °C, which no reference junction is"
        return junction_c


def measured_frame(
    channel: int,
    value: float,
    unit: Unit,
    junction_c: float | None,
    board_ms: int | None,
    faults: tuple[Fault, ...],
) -> Frame | str:
    """Give the frame of one value in `unit` with its junction, °C; in words why there is none.

    Beside a fault no number is needed, so one that makes no sense is left out there.
    """
    if unit.is_voltage:
        emf_uv = round(microvolts(value, unit), _DIGITS)
        if faults and not abs(emf_uv) <= _EMF_BOUND_UV:
            return Frame(channel, board_ms=board_ms, junction_c=junction_c, faults=faults)
        if not math.isfinite(emf_uv) or abs(emf_uv) > _EMF_BOUND_UV:
            return f"is {value:g} {unit.value}, more than any thermocouple gives"
        if junction_c is None and not faults:
            return "is a voltage, and no reference junction stands beside it: name it as 'junction'"
        return Frame(channel, None, board_ms, emf_uv, None, junction_c, faults)
    temp_c = round(celsius(value, unit), _DIGITS)
    if faults and not _TEMP_C[0] <= temp_c <= _TEMP_C[1]:
        return Frame(channel, board_ms=board_ms, junction_c=junction_c, faults=faults)
    if not _TEMP_C[0] <= temp_c <= _TEMP_C[1]:
        return f"is {value:g} {unit.value}, which no thermocouple measures"
    return Frame(channel, None, board_ms, None, temp_c, junction_c, faults)


def _quoted(name: str) -> str:
    return ascii(name[:30])
