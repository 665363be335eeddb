"""Quantities as people write them, and back: the only parser and the only formatter of units.

Inside everything is °C, seconds and °C per second. A *difference* in °F scales by 5/9 and never shifts, which is why
temperatures and differences have a reader each (a general units library makes the caller remember it).
"""

import math
import re
from dataclasses import dataclass

from rampwarden.core.written_numbers import BLANKS, MINUS, parse_number
from rampwarden.errors import AmbiguousNumberError, QuantityError

_BLANK = rf"[{BLANKS}]*"
# Whether it is one is `parse_number`'s to say. At most so many letters: what is no number costs nothing to refuse.
_NUMBER = rf"[+{MINUS}]?{_BLANK}\d(?:[\d.,'’{BLANKS}]{{0,40}}\d)?"
_DEGREES = r"(?:°|º|˚|deg(?:ree)?s?\b\.?)?"
_SCALES = {"c": "C", "celsius": "C", "centigrade": "C", "f": "F", "fahrenheit": "F", "k": "K", "kelvin": "K"}
_TEMPERATURE = re.compile(rf"({_NUMBER}){_BLANK}{_DEGREES}{_BLANK}({'|'.join(_SCALES)}|[℃℉])", re.IGNORECASE)
_SECONDS_PER = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1.0),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), 60.0),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 3600.0),
    **dict.fromkeys(("d", "day", "days"), 86400.0),
}
_TIME_UNITS = "|".join(sorted(_SECONDS_PER, key=len, reverse=True))
_DURATION_PART = re.compile(rf"(\d(?:[\d.,]{{0,20}}\d)?){_BLANK}({_TIME_UNITS})(?![a-z])\.?", re.IGNORECASE)
_BETWEEN_PARTS = re.compile(rf"{_BLANK}(?:,|and\b)?{_BLANK}", re.IGNORECASE)
# "25 C / 15 min", "25 °C in 15 min", "25 C per 15 min", "within any 15 minutes", "100 C an hour".
_PER = re.compile(r"/|\b(?:per|every|each|in any|within any|in|within|an|a)\b", re.IGNORECASE)
_ABSOLUTE_ZERO_C = -273.15
_HALF_HOUR_S = 1800.0
_LONGEST_RATE = 200
# Below so many seconds a guess is told in steps of so many.
_STEPS = ((1200.0, 60.0), (7200.0, 300.0), (18000.0, 600.0), (float("inf"), _HALF_HOUR_S))


@dataclass(frozen=True, slots=True)
class Rate:
    """So many degrees within any window of so many seconds: `25 C / 15 min` keeps both numbers."""

    climb_c: float
    window_s: float

    @property
    def c_per_s(self) -> float:
        """The same as one slope, °C/s."""
        return self.climb_c / self.window_s


def parse_temperature(text: object) -> float:
    """Read a temperature such as ``"200 C"`` or ``"392 F"``; gives °C.

    >>> parse_temperature("392 F")
    200.0
    """
    number, unit = _split(text, "a temperature such as '200 C'")
    if unit == "K":
        raise QuantityError(f"{text!r}: K is for differences; write a temperature in C or F")
    temp_c = (number - 32.0) * 5.0 / 9.0 if unit == "F" else number
    if temp_c < _ABSOLUTE_ZERO_C:
        raise QuantityError(f"{text!r} lies below absolute zero; is the sign or the unit wrong?")
    return temp_c


def parse_difference(text: object) -> float:
    """Read a temperature difference such as ``"-25 C"`` or ``"45 F"``; gives °C.

    >>> parse_difference("45 F")
    25.0
    """
    number, unit = _split(text, "a temperature difference such as '25 C'")
    return number * 5.0 / 9.0 if unit == "F" else number


def parse_duration(text: object) -> float:
    """Read a duration such as ``"20 min"`` or ``"1 h 30 min"``; gives seconds.

    >>> parse_duration("1 h 30 min")
    5400.0
    """
    if not isinstance(text, str) or not text.strip():
        raise QuantityError(f"{text!r} is not a duration such as '20 min' or '1 h 30 min'")
    seconds, rest = 0.0, text.strip()
    while rest:
        part = _DURATION_PART.match(rest)
        if part is None:
            raise QuantityError(f"{text!r} is not a duration such as '20 min' or '1 h 30 min'")
        seconds += _number(part[1], text, "a duration such as '20 min' or '1 h 30 min'") * _SECONDS_PER[part[2].lower()]
        rest = rest[part.end() :]
        between = _BETWEEN_PARTS.match(rest)
        # What joins two parts stands between two.
        if rest.strip() and between is not None:
            rest = rest[between.end() :] or rest
    return seconds


def parse_rate(text: object) -> Rate:
    """Read a rate with its averaging window, such as ``"25 C / 15 min"``, ``"25 °C in 15 min"`` or ``"100 C/hour"``.

    >>> parse_rate("25 C / 15 min") == parse_rate("25 °C in 15 min") == parse_rate("25 C per 15 minutes")
    True
    >>> parse_rate("2,5 C / min")
    Rate(climb_c=2.5, window_s=60.0)
    """
    per = _PER.search(text) if isinstance(text, str) and len(text) <= _LONGEST_RATE else None
    if per is None or not isinstance(text, str):
        raise QuantityError(f"{text!r} is not a rate such as '25 C / 15 min'")
    climb, window = text[: per.start()], text[per.end() :].strip()
    try:
        window_s = parse_duration(window if window[:1].isdigit() else f"1 {window}")
        climb_c = parse_difference(climb)
    except AmbiguousNumberError:
        raise
    except QuantityError:
        # Said of the whole: its halves, perhaps with a 1 put before the unit, are not what the person wrote.
        raise QuantityError(f"{text!r} is not a rate such as '25 C / 15 min'") from None
    if climb_c <= 0 or window_s <= 0:
        raise QuantityError(f"{text!r}: a rate needs a climb and a window above zero")
    return Rate(climb_c, window_s)


def counted(count: int, one: str, many: str) -> str:
    """Write how many there are: `one` in its own words, others by number.

    >>> counted(1, "a line", "lines"), counted(12, "a line", "lines")
    ('a line', '12 lines')
    """
    return one if count == 1 else f"{count} {many}"


def format_duration(seconds: float) -> str:
    """Write a duration for people: ``"45 s"``, ``"15 min"``, ``"1 h 30 min"``.

    >>> format_duration(5400)
    '1 h 30 min'
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 600 and whole % 60:
        return f"{whole // 60} min {whole % 60} s"
    minutes = round(whole / 60)
    hours, minutes = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def heat_clock(seconds: float) -> str:
    """Write a moment of the heat for people, in hours and minutes since it began.

    >>> heat_clock(14_520), heat_clock(59)
    ('4:02', '0:00')
    """
    minutes = max(0, int(seconds)) // 60
    return f"{minutes // 60}:{minutes % 60:02d}"


def format_range(best_s: float, low_s: float, high_s: float) -> str:
    """Write a guessed duration for people, as wide as it is: from `low_s` to `high_s`, most likely `best_s`.

    >>> format_range(1900, 1500, 2400)
    '25–40 min'
    >>> format_range(5400, 4200, 6000)
    '1 h 10 min–1 h 40 min'
    >>> format_range(18000, 12600, 23400)
    '3½–6½ h'
    >>> format_range(1500, 1495, 1505)
    '25 min'
    """
    if high_s < 60.0:
        return "less than a minute"
    if high_s - low_s <= 0.03 * best_s:
        return format_duration(best_s)
    # Rounded outwards to what a person would say of so long a time.
    step_s = next(step_s for below_s, step_s in _STEPS if high_s < below_s)
    low, high = math.floor(low_s / step_s) * step_s, math.ceil(high_s / step_s) * step_s
    if high - low <= step_s:
        return f"about {format_duration(round(best_s / 60.0) * 60.0)}"
    if low <= 0.0:
        return f"up to {format_duration(high)}"
    if high < 3600.0:
        return f"{low / 60.0:.0f}–{high / 60.0:.0f} min"
    if step_s == _HALF_HOUR_S:
        return f"{_half_hours(low)}–{_half_hours(high)} h"
    return f"{format_duration(low)}–{format_duration(high)}"


def _half_hours(seconds: float) -> str:
    hours, halves = divmod(round(seconds / _HALF_HOUR_S), 2)
    return f"{hours or ''}½" if halves else f"{hours}"


def format_slope(c_per_s: float, window_s: float) -> str:
    """Write a slope in the unit its window suits: per hour from five minutes up, else per minute.

    >>> format_slope(100 / 3600, 900)
    '100 °C/h'
    """
    value, unit = slope_in_window_unit(c_per_s, window_s)
    # To a hundredth first: a furnace that stands still climbs 0 °C/h, not 3e-12 and not -0.
    value = round(value, 2) + 0.0
    return f"{value:.3g} {unit}" if abs(value) < 100 else f"{value:.0f} {unit}"


def slope_in_window_unit(c_per_s: float, window_s: float) -> tuple[float, str]:
    """Give a slope and its unit: °C/h for windows of five minutes and more, °C/min for shorter ones."""
    if window_s >= 300:
        return c_per_s * 3600.0, "°C/h"
    return c_per_s * 60.0, "°C/min"


def _split(text: object, wanted: str) -> tuple[float, str]:
    match = _TEMPERATURE.fullmatch(text.strip()) if isinstance(text, str) else None
    if match is None:
        raise QuantityError(f"{text!r} is not {wanted}")
    unit = match[2].lower().replace("℃", "c").replace("℉", "f")
    return _number(match[1], text, wanted), _SCALES[unit]


def _number(written: str, text: object, wanted: str) -> float:
    """Read the number of a quantity; what is wrong with it is said of the whole `text`."""
    try:
        return parse_number(written)
    except AmbiguousNumberError as error:
        raise AmbiguousNumberError(f"{text!r}: {written.strip()}", *error.readings) from None
    except QuantityError:
        raise QuantityError(f"{text!r} is not {wanted}") from None
