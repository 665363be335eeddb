"""Numbers as people and instruments write them: with a point or a comma, and with thousands parted or not.

One rule decides for schedules, marks and the logs of other instruments: where a number alone can mean two things
(a comma and exactly three digits), it is refused with both readings named, unless whoever calls knows the decimal sign
of its surroundings.
"""

import re
from enum import StrEnum

from rampwarden.errors import AmbiguousNumberError, QuantityError

BLANKS = " \t\u00a0\u202f\u2009"
"""What may stand between groups of three digits, or before a unit: a blank, a tab, and three that look like blanks."""
MINUS = "-−–"
"""A hyphen, the minus sign, and the dash that text programs make of one."""
# No furnace, clock or balance gives more; a pasted page of digits costs nothing to refuse.
_MOST_WHOLE = 7
_MOST_DECIMALS = 6
_LONGEST = 40
_PLAIN = re.compile(r"\d+(?:([.,])(\d+))?", re.ASCII)
_GROUPED = re.compile(rf"\d{{1,3}}(?:([.,'’{BLANKS}])\d{{3}})(?:\1\d{{3}})*(?:([.,])(\d+))?", re.ASCII)


class DecimalSign(StrEnum):
    """What parts a number's whole from its fraction."""

    POINT = "."
    COMMA = ","


def parse_number(text: str, decimal: DecimalSign | None = None) -> float:
    """Read a number without unit or exponent; `decimal` is the sign its surroundings are known to use.

    Raises `AmbiguousNumberError` where a comma and three digits may be a fraction or thousands, and `QuantityError`
    where it is no such number.

    >>> parse_number("2,5"), parse_number("−1 150.5"), parse_number("1,150", DecimalSign.COMMA)
    (2.5, -1150.5, 1.15)
    """
    whole = text.strip()
    digits = whole[1:] if whole[:1] in (*MINUS, "+") else whole
    if len(digits) > _LONGEST:
        raise QuantityError(f"{text[:_LONGEST]!r} is not a number")
    value = _positive(digits, text, decimal)
    return -value if whole[0] in MINUS else value


def _positive(digits: str, text: str, decimal: DecimalSign | None) -> float:
    plain, grouped = _PLAIN.fullmatch(digits), _GROUPED.fullmatch(digits)
    if plain is not None and grouped is not None:
        # One sign and three digits after it: a fraction, or thousands?
        return float(_settled(digits, plain[1], text, decimal))
    if plain is not None:
        whole, _, fraction = digits.replace(",", ".").partition(".")
        if decimal is not None and plain[1] not in (None, decimal):
            raise QuantityError(f"{text!r} is not a number: its decimal sign is {decimal.value!r} elsewhere")
        return float(_bounded(whole, fraction, text))
    if grouped is None or grouped[1] == grouped[2] or (decimal is not None and grouped[2] not in (None, decimal)):
        raise QuantityError(f"{text!r} is not a number")
    if grouped[1] == decimal:
        raise QuantityError(f"{text!r} is not a number: {decimal!s} parts its decimals elsewhere")
    fraction = grouped[3] or ""
    whole = digits[: len(digits) - len(fraction) - 1] if fraction else digits
    return float(_bounded(re.sub(r"\D", "", whole), fraction, text))


def _settled(digits: str, sign: str, text: str, decimal: DecimalSign | None) -> str:
    """Decide between a fraction and thousands by what is known, or by what nobody writes."""
    whole, _, last = digits.partition(sign)
    as_fraction, as_thousands = _bounded(whole, last, text), _bounded(whole + last, "", text)
    if decimal is not None:
        return as_fraction if sign == decimal else as_thousands
    # A point has always been a schedule's decimal sign, and thousands never begin with a nought.
    if sign == DecimalSign.POINT or whole.startswith("0"):
        return as_fraction
    raise AmbiguousNumberError(digits, f"{float(as_fraction):g}", as_thousands)


def _bounded(whole: str, fraction: str, text: str) -> str:
    if len(whole) > _MOST_WHOLE or len(fraction) > _MOST_DECIMALS:
        raise QuantityError(f"{text!r} has more digits than anything that is measured here")
    return f"{whole}.{fraction}" if fraction else whole
