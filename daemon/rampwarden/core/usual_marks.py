"""The usual marks: what a person may say was done or seen at the furnace, some of them with a value.

`gauge 1.2 bar`, `burner 3`, `watched by Ana`: the mark's name comes first, its value is the rest, as it was written.
Any other word is a mark too. Doors ask for the value where it is missing; the core takes every mark as it comes, for
what is in a record already cannot be refused any more.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from rampwarden.core.model import mark_name
from rampwarden.core.weight_marks import maybe_weight_kg, refuse_ambiguous
from rampwarden.core.written_numbers import parse_number
from rampwarden.errors import AmbiguousNumberError, QuantityError


class MarkValue(StrEnum):
    """What a mark brings besides its name."""

    NOTHING = "nothing"
    WORDS = "words"
    PRESSURE = "pressure"
    WEIGHT = "weight"


@dataclass(frozen=True, slots=True)
class UsualMark:
    """One of the usual marks: its name, what it means, and the value it brings, asked for in a word or two."""

    name: str
    meaning: str
    value: MarkValue = MarkValue.NOTHING
    asked: str = ""
    example: str = ""


TRANSFER, ARRIVED = "transfer", "arrived"
MIST_SEEN, MIST_GONE = "mist-seen", "mist-gone"
BURNER, WATCHED_BY = "burner", "watched-by"
POT_LOOKS = "pot-looks"

USUAL_MARKS = (
    UsualMark("lid-open", "the lid is open"),
    UsualMark("lid-closed", "the lid is shut again"),
    UsualMark(TRANSFER, "the pot leaves the oven: begins the schedule's transfer"),
    UsualMark(ARRIVED, "the pot stands in the furnace: ends the transfer"),
    UsualMark("bottle-changed", "another gas bottle"),
    UsualMark("charged", "metal was put in"),
    UsualMark("flame-out", "the flame went out"),
    UsualMark("dial", "the dial was touched: a reading that moves then is believed again"),
    UsualMark(MIST_SEEN, "mist or steam was seen at the door"),
    UsualMark(MIST_GONE, "no more mist is seen"),
    UsualMark(BURNER, "the burner was set otherwise", MarkValue.WORDS, "burner setting", "3"),
    UsualMark("gauge", "what the gas gauge shows", MarkValue.PRESSURE, "gauge pressure", "1.2 bar"),
    UsualMark("bottle-number", "which bottle hangs on the hose", MarkValue.WORDS, "bottle number", "7"),
    UsualMark("bottle-weighs", "the bottle on the scale", MarkValue.WEIGHT, "weight of the bottle", "14.2 kg"),
    UsualMark("pot-weighs", "the pot on the scale", MarkValue.WEIGHT, "weight of the pot", "3.52 kg"),
    UsualMark(POT_LOOKS, "what is seen of the pot", MarkValue.WORDS, "look of the pot", "even ring, no crack"),
    UsualMark(WATCHED_BY, "who watches the furnace from now on", MarkValue.WORDS, "who watches now", "Ana"),
)
"""All of them, in the order in which they are offered."""

LEAVE_AS_IT_IS = "leave the schedule as it is"
"""The answer that lets a mark stand in the record and changes nothing."""


def go_on_with(segment: str) -> str:
    """Give the answer that goes on with a segment, by its name."""
    return f"go on with {segment!r}"


PRESSURE_UNITS = ("mbar", "bar", "kPa", "psi")
_PRESSURE = re.compile(r"([-−–]?\d[\d.,' ]{0,20}?)\s*(mbar|bar|kpa|psi)", re.IGNORECASE | re.ASCII)
_BETWEEN = r"[\s_-]+"


@cache
def _patterns() -> tuple[tuple[UsualMark, re.Pattern[str]], ...]:
    """Give what each mark is known by: made once the first is given, not for every command that loads settings."""
    value = r"(?:[\s_:=-]+(?P<value>.*?))?"
    return tuple(
        (each, re.compile(rf"\s*{_BETWEEN.join(each.name.split('-'))}{value}\s*", re.IGNORECASE | re.DOTALL))
        for each in USUAL_MARKS
    )


def maybe_usual(text: str) -> tuple[UsualMark, str] | None:
    """Give which usual mark a text is, and its value as it was written, empty where there is none; None for another.

    >>> mark, value = maybe_usual("Watched by Ana-Lena")
    >>> mark.name, value
    ('watched-by', 'Ana-Lena')
    """
    for mark, pattern in _patterns():
        found = pattern.fullmatch(text)
        if found is not None and (mark.value is not MarkValue.NOTHING or not found["value"]):
            return mark, found["value"] or ""
    return None


def usual_name(text: str) -> str:
    """Give the name of the usual mark that a text is, without its value; else the text as marks are named.

    >>> usual_name("burner 3"), usual_name("Lid open"), usual_name("own word")
    ('burner', 'lid-open', 'own-word')
    """
    usual = maybe_usual(text)
    return mark_name(text) if usual is None else usual[0].name


def refuse_unusable(text: str) -> None:
    """Raise `QuantityError` for a usual mark whose value is missing or cannot be read; pass every other.

    Its kind `AmbiguousNumberError` has a value that may be read in two ways.
    """
    refuse_ambiguous(text)
    usual = maybe_usual(text)
    if usual is None:
        return
    mark, value = usual
    if mark.value is MarkValue.NOTHING:
        return
    if not value:
        raise QuantityError(f"{mark.name} needs its value ({mark.asked}), such as: {mark.name} {mark.example}")
    if mark.value is MarkValue.PRESSURE:
        found = _PRESSURE.fullmatch(value)
        if found is None:
            units = ", ".join(PRESSURE_UNITS)
            raise QuantityError(
                f"{mark.name} {value}: a pressure is a number with its unit ({units}): {mark.name} {mark.example}"
            )
        _see_to_number(mark, found[1], found[2])
    elif mark.value is MarkValue.WEIGHT and maybe_weight_kg(text, mark.name.removesuffix("-weighs")) is None:
        # What is said must be what the heat will read of it.
        raise QuantityError(f"{mark.name} {value}: not a number of kg; such as: {mark.name} {mark.example}")


def _see_to_number(mark: UsualMark, number: str, unit: str) -> None:
    try:
        parse_number(number)
    except AmbiguousNumberError as error:
        readings = (f"{reading} {unit}" for reading in error.readings)
        raise AmbiguousNumberError(f"{mark.name} {number} {unit}: {number}", *readings) from None
    except QuantityError:
        raise QuantityError(f"{mark.name} {number}: not a number; such as: {mark.name} {mark.example}") from None
