"""What a single cell of a log may be, by its form alone: a number, a date, a time of day, both together, or nothing."""

import re
from enum import StrEnum

from rampwarden.core.written_numbers import BLANKS, MINUS

NUMBER = rf"[+{MINUS}]?(?:\d[\d.,'’\u00a0\u202f]*|[.,]\d+)(?:[eE][+-]?\d{{1,3}})?"
_UNIT = r"(?:°|º|˚|ø|deg)?\s*(?:[CFK]|celsius|fahrenheit|mV|µV|uV)"
CLOCK = r"\d{1,3}[:h]\d{2}(?:[:m]\d{2}(?:[.,:]\d{1,6})?)?s?(?:\s*[ap]\.?\s?m\.?)?"
_MONTH = r"[A-Za-zäéûü]{3,9}\.?"
_DATES = (
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}",
    r"\d{1,2}[-/.]\s?\d{1,2}[-/.]\s?(?:\d{4}|\d{2})",
    rf"\d{{1,2}}\.?[-/ ]?\s?{_MONTH}[-/ ,]\s?(?:\d{{4}}|\d{{2}})",
    rf"{_MONTH}[-/ ]\s?\d{{1,2}}(?:st|nd|rd|th)?[-/ ,]\s?\d{{4}}",
)
DATE = "(?:" + "|".join(_DATES) + ")"
_ZONE = r"(?:\s*(?:Z|UTC|GMT|[+-]\d{2}:?\d{2}))?"
_BETWEEN = r"(?:T|,?\s+|\s*-\s+)"
# No cell of a log that means something is longer.
_LONGEST = 60


class CellForm(StrEnum):
    """What a cell looks like."""

    NUMBER = "number"
    DATE = "date"
    CLOCK = "time of day"
    MOMENT = "date and time"
    BLANK = "blank"
    OTHER = "text"


# A date with points might pass for a number, and is looked for first.
_FORMS = (
    (CellForm.DATE, re.compile(DATE, re.IGNORECASE)),
    (CellForm.NUMBER, re.compile(rf"{NUMBER}\s*{_UNIT}?", re.IGNORECASE)),
    (CellForm.CLOCK, re.compile(CLOCK, re.IGNORECASE)),
    (CellForm.MOMENT, re.compile(rf"{DATE}{_BETWEEN}{CLOCK}{_ZONE}|{CLOCK}{_BETWEEN}{DATE}", re.IGNORECASE)),
)
_NOTHING = {"", "-", "--", "---", "----", "n/a", "na", "nan", "null", "none"}


def form_of(cell: str) -> CellForm:
    """Tell what a cell looks like.

    >>> [str(form_of(text)) for text in ("21,5 °C", "03.04.2026", "9:15 pm", "2026-04-03T09:15:00Z", "---", "OPEN")]
    ['number', 'date', 'time of day', 'date and time', 'blank', 'text']
    """
    text = cell.strip(f"{BLANKS}\"'")
    if text.lower() in _NOTHING:
        return CellForm.BLANK
    if len(text) > _LONGEST:
        return CellForm.OTHER
    return next((form for form, pattern in _FORMS if pattern.fullmatch(text)), CellForm.OTHER)
