"""Dates and times of day as instruments write them; which of two orders a date is in is told by the file, or asked.

A date with points between (03.04.2026) is the day's first wherever it is written so; one with strokes (03/04/2026) is
either, and the file decides by a day above twelve or by a night that is passed: else nobody does.
"""

import re
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from enum import StrEnum
from itertools import pairwise

from rampwarden.errors import LogQuestionError
from rampwarden.foreign_logs.cells import CLOCK, DATE

_CLOCK = re.compile(r"(\d{1,3})[:h](\d{2})(?:[:m](\d{2})(?:[.,:](\d{1,6}))?)?s?\s*([ap])?.*", re.IGNORECASE)
_CLOCK_ANYWHERE = re.compile(CLOCK, re.IGNORECASE)
_DATE_ANYWHERE = re.compile(DATE, re.IGNORECASE)
_ZONE = re.compile(r"(?:Z|UTC|GMT|([+-])(\d{2}):?(\d{2}))$")
_NUMERIC = re.compile(r"(\d{1,4})([-/.])\s?(\d{1,2})[-/.]\s?(\d{1,4})")
_WORDY = re.compile(
    r"(?:(\d{1,2})\D{0,3})?\b([A-Za-zäéûü]{3,9})\.?[-/ ,]\s?(?:(\d{1,2})(?:st|nd|rd|th)?[-/ ,]\s?)?(\d{2,4})"
)
_MONTHS = (
    ("jan",), ("feb", "fév", "fev"), ("mar", "mär", "mrz"), ("apr", "avr", "abr"), ("may", "mai", "mag"),
    ("jun", "juin"), ("jul", "juil", "lug"), ("aug", "août", "aou", "ago"), ("sep", "set"), ("oct", "okt", "ott"),
    ("nov",), ("dec", "dez", "déc", "dic"),
)  # fmt: skip
# Readings of one heat lie closer together, days.
_CLOSE = timedelta(days=3)
_DAY_S = 86400.0
_YY_FROM, _YY_TO = 20, 45


class DateOrder(StrEnum):
    """Which part of a date comes first."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"
    YEAR_FIRST = "year-first"


def clock_s(text: str) -> float:
    """Give a time of day in seconds; raises `ValueError` where it is none. More than 24 h is a time that has passed.

    >>> clock_s("9:15:30.5 pm"), clock_s("12:05 am"), clock_s("26:00")
    (76530.5, 300.0, 93600.0)
    """
    found = _CLOCK.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{text!r} is no time of day")
    hours, minutes, seconds = int(found[1]), int(found[2]), int(found[3] or 0)
    if minutes > 59 or seconds > 59 or (found[5] and not 1 <= hours <= 12):
        raise ValueError(f"{text!r} is no time of day")
    if found[5]:
        hours = hours % 12 + (12 if found[5].lower() == "p" else 0)
    return hours * 3600.0 + minutes * 60.0 + seconds + float(f"0.{found[4] or 0}")


def date_of(text: str, order: DateOrder) -> date:
    """Give a date written in an order; raises `ValueError` where there is none such."""
    numeric = _NUMERIC.search(text)
    if numeric is not None:
        first, middle, last = int(numeric[1]), int(numeric[3]), int(numeric[4])
        if len(numeric[1]) == 4:
            return date(first, middle, last)
        if order is DateOrder.YEAR_FIRST:
            return date(_year(first), middle, last)
        day, month = (first, middle) if order is DateOrder.DAY_FIRST else (middle, first)
        return date(_year(last), month, day)
    wordy = _WORDY.search(text)
    if wordy is None or (wordy[1] is None) == (wordy[3] is None):
        raise ValueError(f"{text!r} is no date")
    return date(_year(int(wordy[4])), _month(wordy[2]), int(wordy[1] or wordy[3]))


def moment_s(text: str, order: DateOrder) -> float:
    """Give a date with a time of day in seconds since an epoch of its own; raises `ValueError` where it is none."""
    day = _DATE_ANYWHERE.search(text)
    rest = text if day is None else text[: day.start()] + " " + text[day.end() :]
    clock = _CLOCK_ANYWHERE.search(rest)
    if day is None or clock is None:
        raise ValueError(f"{text!r} is no date and time")
    zone = _ZONE.search(text)
    offset_s = 0.0
    if zone is not None and zone[1] and ":" in rest[clock.end() :] + rest[: clock.end()]:
        offset_s = (int(zone[2]) * 3600.0 + int(zone[3]) * 60.0) * (-1.0 if zone[1] == "-" else 1.0)
    return day_s(day[0], order) + clock_s(clock[0]) - offset_s


def day_s(text: str, order: DateOrder) -> float:
    """Give the beginning of a day in seconds since 1970, as if it were UTC."""
    return (date_of(text, order) - date(1970, 1, 1)).days * _DAY_S


def order_of(texts: Sequence[str], given: DateOrder | None) -> DateOrder:
    """Tell in which order a log's dates are written; raises `LogQuestionError` where both are possible."""
    days = list(dict.fromkeys(found[0] for text in texts if (found := _DATE_ANYWHERE.search(text))))
    if given is not None:
        return given
    read = {order: dates for order in _orders_of(days) if (dates := _dates(days, order)) is not None}
    if not read:
        # Whatever is no date costs its own row.
        return DateOrder.DAY_FIRST
    different: list[DateOrder] = []
    for order, dates in read.items():
        if all(dates != read[other] for other in different):
            different.append(order)
    if len(different) == 1:
        return different[0]
    close = [order for order in different if _runs_on(read[order])]
    if len(days) > 1 and len(close) == 1:
        return close[0]
    meant = " or ".join(f"{read[order][0]:%-d %B %Y}" for order in different)
    raise LogQuestionError(
        f"{days[0]} may mean {meant}, and nothing in the file decides it",
        tuple((f"--dates {order}", f"{read[order][0]:%-d %B %Y}") for order in different),
    )


def _orders_of(days: Iterable[str]) -> tuple[DateOrder, ...]:
    """Give the orders that are used for dates written so."""
    found_in = [found for day in days if (found := _NUMERIC.search(day))]
    numeric = [found for found in found_in if len(found[1]) < 4]
    if found_in and not numeric:
        return (DateOrder.YEAR_FIRST,)
    if not numeric or any(found[2] == "." for found in numeric):
        return (DateOrder.DAY_FIRST,)
    orders = (DateOrder.DAY_FIRST, DateOrder.MONTH_FIRST)
    if all(len(found[4]) == 2 and _YY_FROM <= int(found[1]) <= _YY_TO for found in numeric):
        return (*orders, DateOrder.YEAR_FIRST)
    return orders


def _dates(days: Iterable[str], order: DateOrder) -> list[date] | None:
    try:
        return [date_of(day, order) for day in days]
    except ValueError:
        return None


def _runs_on(dates: Sequence[date]) -> bool:
    return all(timedelta(0) <= after - before <= _CLOSE for before, after in pairwise(dates))


def _year(number: int) -> int:
    return number + 2000 if number < 100 else number


def _month(word: str) -> int:
    for number, names in enumerate(_MONTHS, start=1):
        if word.lower().startswith(names):
            return number
    raise ValueError(f"{word!r} is no month")
