"""Numbers and units as boards print them: what is understood, and what is refused in words.

A number has at most ten digits before its point and nine behind it: more are a counter or an address, no measurement.
"""

import re
from dataclasses import dataclass
from enum import StrEnum

from rampwarden.core.model import Fault


class Unit(StrEnum):
    """What a board's number is in."""

    C = "C"
    F = "F"
    K = "K"
    UV = "uV"
    MV = "mV"
    V = "V"

    @property
    def is_voltage(self) -> bool:
        """Whether it is an EMF, which means a temperature only together with its reference junction's."""
        return self in _MICROVOLTS


_MICROVOLTS = {Unit.UV: 1.0, Unit.MV: 1e3, Unit.V: 1e6}

NUMBER = r"[+-]?\d{1,10}(?:\.\d{0,9})?(?:[eE][+-]?\d{1,2})?"
"""A number as sketches and instruments print it (IEEE 488.2, 8.7: NR1, NR2 and NR3)."""

_SPELLED = {
    **dict.fromkeys(("c", "°c", "*c", "degc", "deg c", "℃", "celsius", "deg_c"), Unit.C),
    **dict.fromkeys(("f", "°f", "*f", "degf", "deg f", "℉", "fahrenheit", "deg_f"), Unit.F),
    **dict.fromkeys(("k", "kelvin", "degk"), Unit.K),
    **dict.fromkeys(("uv", "µv", "μv"), Unit.UV),
    "mv": Unit.MV,
    "v": Unit.V,
}
# Units that other sensors of a board have: a person who named their label meant something else.
_FOREIGN = frozenset(
    (
        "%",
        "%rh",
        "rh",
        "pa",
        "hpa",
        "kpa",
        "mbar",
        "bar",
        "psi",
        "ohm",
        "ohms",
        "ω",
        "a",
        "ma",
        "hz",
        "kg",
        "ppm",
        "r",
        "°r",
    )
)
_FAULT_WORDS = {
    **dict.fromkeys(
        ("open", "oc", "o.c.", "open circuit", "no tc", "no probe", "disconnected", "unplugged"), Fault.OPEN
    ),
    **dict.fromkeys(("short", "scg", "short gnd", "short to gnd", "short to ground"), Fault.SHORT_GROUND),
    **dict.fromkeys(("scv", "short vcc", "short to vcc", "short to supply"), Fault.SHORT_SUPPLY),
    # What the board says no more of than that there is no number.
    **dict.fromkeys(
        ("nan", "inf", "ovf", "ovl", "overflow", "err", "error", "fault", "fail", "failed", "null", "none", "n/a"),
        Fault.CONVERTER,
    ),
}
FINE_WORDS = frozenset(("", "ok", "good", "none", "no", "false", "fine", "normal"))
"""What a board writes where nothing is wrong."""


@dataclass(frozen=True, slots=True)
class Item:
    """One value of a line: a number with its unit (None where the line names none), or what the board says is wrong.

    `is_truth` marks a true or false: it may tell of a fault, and is no temperature.
    """

    value: float | None = None
    unit: Unit | None = None
    fault: Fault | None = None
    text: str = ""
    is_truth: bool = False


def spelled_unit(text: str) -> Unit | None:
    """Give the unit that a word stands for, however it is spelled; None if it is none of ours.

    >>> spelled_unit("degC"), spelled_unit("mV"), spelled_unit("ok")
    (<Unit.C: 'C'>, <Unit.MV: 'mV'>, None)
    """
    return _SPELLED.get(text.strip().lower())


def is_foreign_unit(text: str) -> bool:
    """Tell whether a word is a unit of something that is neither a temperature nor a voltage."""
    return text.strip().lower() in _FOREIGN


def fault_word(text: str) -> Fault | None:
    """Give the fault that a word means; rows of dashes count as one.

    >>> fault_word("OPEN"), fault_word("---")
    (<Fault.OPEN: 'open'>, <Fault.CONVERTER: 'converter'>)
    """
    word = text.strip().strip("[]()!").lower()
    return Fault.CONVERTER if len(word) > 1 and not word.strip("-") else _FAULT_WORDS.get(word)


def celsius(value: float, unit: Unit) -> float:
    """Give a temperature in °C from one in `unit`, which is no voltage."""
    if unit is Unit.F:
        return (value - 32.0) * 5.0 / 9.0
    return value - 273.15 if unit is Unit.K else value


def microvolts(value: float, unit: Unit) -> float:
    """Give an EMF in µV from one in `unit`, which is a voltage."""
    return value * _MICROVOLTS[unit]


_WITH_UNIT = re.compile(rf"\s*({NUMBER})\s*([^\d\s].*)?")


def item_of(text: str) -> Item | str:
    """Read the text of one value, such as ``24.25 degC`` or ``open``; gives in words why it cannot be read."""
    fault = fault_word(text)
    if fault is not None:
        return Item(fault=fault, text=text)
    match = _WITH_UNIT.fullmatch(text.strip())
    if match is None:
        return f"{_shown(text)} is no number"
    unit = match[2].strip() if match[2] else ""
    if not unit:
        return Item(float(match[1]), None, text=text)
    known = spelled_unit(unit)
    return Item(float(match[1]), known, text=text) if known else f"is in {_shown(unit)}, neither °C, F, K nor a voltage"


def _shown(text: str) -> str:
    return ascii(text.strip()[:20])
