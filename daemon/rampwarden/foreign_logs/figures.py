"""Numbers of a log's cells, and which sign parts their decimals: told by the file, or asked.

What decides: a fraction of any length but three digits, a number with both signs, one that begins with a nought; what
other columns use; and that no thermocouple shows 20125 °C. A point and three digits stays a fraction, as
everywhere here.
"""

import re
from collections.abc import Iterable, Sequence

from rampwarden.core.written_numbers import BLANKS, DecimalSign, parse_number
from rampwarden.errors import LogQuestionError, QuantityError

_FIGURE = re.compile(
    r"(.*?)(?:[eE]([+-]?\d{1,3}))?\s*(?:°|º|˚|ø|deg)?\s*(?:[CFK]|celsius|fahrenheit|mV|µV|uV)?", re.IGNORECASE
)
_OPEN = re.compile(r"[1-9]\d{0,2},\d{3}")
_COMMA_FRACTION = re.compile(r"\d*,(?:\d{1,2}|\d{4,})|0+,\d{3}|\d{4,},\d+|\d{1,3}(?:[.' ]\d{3})+,\d+")
_POINT_FRACTION = re.compile(r"\d*\.\d+|\d{1,3}(?:[,' ]\d{3})+\.\d+|\d{1,3}(?:,\d{3}){2,}")
_LONG = re.compile(r"[+-]?\d{1,15}([.,])\d{4,20}")
# No thermocouple shows more, in °C or °F; a column of such numbers is one of fractions.
_MOST = 5000.0


def figure(cell: str, decimal: DecimalSign | None) -> float:
    """Read a cell's number; raises `ValueError` where it is none.

    >>> figure("1.204,5 °C", DecimalSign.COMMA), figure("1.25E+02", DecimalSign.POINT), figure(",5", DecimalSign.COMMA)
    (1204.5, 125.0, 0.5)
    """
    number, exponent = _parts(cell)
    try:
        # What a computer wrote has more decimals than a person would, and cannot be taken for thousands.
        long = _LONG.fullmatch(number)
        value = (
            float(number.replace(",", ".")) if long and decimal in (None, long[1]) else parse_number(number, decimal)
        )
    except QuantityError:
        raise ValueError(f"{cell!r} is no number") from None
    return value * 10.0 ** int(exponent) if exponent else value


def _parts(cell: str) -> tuple[str, str]:
    found = _FIGURE.fullmatch(cell.strip(f"{BLANKS}\"'"))
    number, exponent = (cell, "") if found is None else (found[1].strip(), found[2] or "")
    return (f"0{number}" if number[:1] in (".", ",") else number), exponent


def decimal_of(columns: Iterable[Sequence[str]], given: DecimalSign | None) -> DecimalSign:
    """Tell which sign parts decimals in columns of numbers; raises `LogQuestionError` where it may be either."""
    if given is not None:
        return given
    numbers = [_parts(cell)[0].lstrip("+-−–") for column in columns for cell in column]
    by_comma = sum(_COMMA_FRACTION.fullmatch(number) is not None for number in numbers)
    by_point = sum(_POINT_FRACTION.fullmatch(number) is not None for number in numbers)
    if by_comma or by_point:
        return DecimalSign.COMMA if by_comma > by_point else DecimalSign.POINT
    left_open = [number for number in numbers if _OPEN.fullmatch(number)]
    if not left_open:
        return DecimalSign.POINT
    if max(parse_number(number, DecimalSign.POINT) for number in left_open) > _MOST:
        return DecimalSign.COMMA
    fraction, thousands = (f"{parse_number(left_open[0], sign):g}" for sign in (DecimalSign.COMMA, DecimalSign.POINT))
    raise LogQuestionError(
        f"{left_open[0]} may mean {fraction} or {thousands}, and nothing in the file decides it",
        (
            (f"--decimal {DecimalSign.COMMA.name.lower()}", fraction),
            (f"--decimal {DecimalSign.POINT.name.lower()}", thousands),
        ),
    )
