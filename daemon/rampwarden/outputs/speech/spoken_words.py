"""What the voice says, in words: numbers spelt out, units as people say them, the order before its reason.

Figures are worded from values with their unit and never taken out of a sentence, so that they can be said in °F too.
"""

from rampwarden.core.model import HeatStatus, Quality, StandingAlarm
from rampwarden.degree_scale import DegreeScale
from rampwarden.outputs.status_line import ramp_unit

_ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_PER_UNIT = {"°C/h": "an hour", "°C/min": "a minute", "K/h": "an hour"}


def number_words(value: float) -> str:
    """Spell a whole number out, as far as temperatures and rates go.

    >>> number_words(610), number_words(-90), number_words(1152)
    ('six hundred ten', 'minus ninety', 'one thousand one hundred fifty-two')
    """
    whole = round(value)
    if whole < 0:
        return f"minus {number_words(-whole)}"
    if whole < 20:
        return _ONES[whole]
    if whole < 100:
        tens, ones = divmod(whole, 10)
        return _TENS[tens - 2] + (f"-{_ONES[ones]}" if ones else "")
    if whole < 1000:
        hundreds, rest = divmod(whole, 100)
        return f"{_ONES[hundreds]} hundred" + (f" {number_words(rest)}" if rest else "")
    thousands, rest = divmod(whole, 1000)
    return f"{number_words(thousands)} thousand" + (f" {number_words(rest)}" if rest else "")


def state_words(status: HeatStatus, *, fahrenheit: bool) -> str:
    """Say how hot, how fast and how fast is allowed: "six hundred ten, plus ninety a minute, limit one hundred"."""
    if status.temp_c is None or status.quality is Quality.BAD:
        return "no temperature"
    degrees = DegreeScale(fahrenheit)
    parts = [number_words(degrees.temp(status.temp_c))]
    if status.quality is Quality.HELD:
        parts.append("not trusted yet")
    factor, unit = ramp_unit(status)
    scale = degrees.difference(factor)
    if status.ramp is not None:
        slope = round(status.ramp.c_per_s * scale)
        parts.append(f"{'plus ' if slope > 0 else ''}{number_words(slope)} {_PER_UNIT[unit]}")
    lowest, highest = status.allowed_c_per_s
    bound = lowest if highest is None else highest
    if bound is not None:
        at_least = "at least" if highest is None and bound > 0 else "limit"
        parts.append(f"{at_least} {number_words(bound * scale)}")
    return ", ".join(parts)


def alarm_words(alarm: StandingAlarm, *, fahrenheit: bool) -> str:
    """Say what to do, which alarm says so, and by how much it is beyond its limit, where that has figures."""
    order = f"{alarm.order.capitalize()}. " if alarm.order else ""
    figures = _figures(alarm, fahrenheit=fahrenheit)
    return f"{order}{alarm.alarm.replace('-', ' ').capitalize()}{f': {figures}' if figures else ''}."


def segment_words(number: int | None, name: str) -> str:
    """Name the segment that has begun."""
    return f"{name}." if number is None else f"Segment {number_words(number)}: {name}."


def _figures(alarm: StandingAlarm, *, fahrenheit: bool) -> str:
    value, limit, unit = alarm.value, alarm.limit, alarm.unit or ""
    if value is None:
        return ""
    degrees = DegreeScale(fahrenheit)
    if unit == "°C":
        value, limit = degrees.temp(value), None if limit is None else degrees.temp(limit)
        said = f"{number_words(value)} degrees"
    elif unit in _PER_UNIT:
        value, limit = degrees.difference(value), None if limit is None else degrees.difference(limit)
        said = f"{number_words(value)} {_PER_UNIT[unit]}"
    elif unit == "s":
        said = f"for {number_words(value)} seconds" if value < 120.0 else f"for {number_words(value / 60.0)} minutes"
        limit = None
    else:
        return ""
    return said if limit is None else f"{said}, limit {number_words(limit)}"
