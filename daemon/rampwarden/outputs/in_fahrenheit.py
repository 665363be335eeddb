"""What the watch says in °C and K, said in °F: one place for every display.

The watch words everything once, in °C, for its record; who reads °F gets the same sentence with its figures turned. A
temperature is turned and shifted, a difference, a rate or an uncertainty only scaled: which of them a figure is stands
in what is around it, and `_RULES` has every way in which the watch words them. What a person wrote is never passed
through here. A new wording is a line in the table of its tests, which read through the sentences of recorded heats.
"""

import re
from functools import cache, lru_cache

from rampwarden.degree_scale import DegreeScale

_FAHRENHEIT = DegreeScale(fahrenheit=True)
_DIGITS = r"[-+−]?\d+(?:\.\d+)?(?:e[-+]?\d+)?"


@cache
def _compiled(rule: str) -> re.Pattern[str]:
    """Compile a rule when a sentence is first turned by it; most processes never turn one."""
    count = 0

    def group(found: re.Match[str]) -> str:
        nonlocal count
        count += 1
        return rf"(?P<{found[1]}{count}>(?<![\d.,:]){_DIGITS})"

    return re.compile(re.sub(r"<([dt])>", group, rule))


_LIMIT = r"(?:limit(?: of)?|at least|at most)"
# `<d>` stands for a difference, `<t>` for a temperature; they are turned in this order.
_RULES = (
    # Rates, with the limit that is named beside them.
    r"<d> became <d> °C/(?:h|min)",
    rf"<d>(?: ± <d>)? °C/(?:h|min)(?: \(allowed <d> to <d>)?(?:[^·;:°]*?{_LIMIT} <d>)?",
    # What a limit lets it climb in a time.
    r"<d> °C(?= while nobody watched)[^·;]*?limit <d>",
    rf"<d> °C(?= within \d)[^·;]*?{_LIMIT} <d>",
    r"<d> °C(?=(?: in| within| per) (?:any )?\d| ?/ ?\d)",
    # Differences by the words around them.
    r"scatter by <d> °C within seconds, <d> is usual",
    r"sagged by <d> °C",
    r"<d> °C(?= (?:fell|lower|less|more|so far|short of where|above its corridor|below its corridor)\b)",
    r"<d> K climbed in [^·;,]*? of <d>",
    r"<d> K\b(?!/)",
    r"<t> ± <d> °C",
    r"± <d> °C",
    # A temperature, and figures without a unit beside it.
    r"<t> °C(?:,| and falling while the heat is on,) <d> (?:below|above|more|less|from what)\b",
    r"<t> °C, band <t> to <t>",
    r"<t> °C, (?:its )?ceiling <t>",
    r"ceiling <t> passed",
    r"<t> °C, usual <t> to <t>",
    r"<t>[-–]<t> °C",
    r"<t> to <t> °C",
    r"<t> °C",
)
# What a claim of the pot measures against its limit: a temperature where the pot was too hot, else a climb or fall.
_CLAIMED_HOT = r"<t> °C, limit <t> °C"
_CLAIMED_FAST = r"<d> °C, limit <d> °C"


@lru_cache(maxsize=2048)
def in_fahrenheit(words: str) -> str:
    """Give what the watch said with its temperatures in °F; whatever else is in it stays as it is.

    >>> in_fahrenheit("26 °C within 15 min, limit 25 · drying")
    '47 °F within 15 min, limit 45 · drying'
    >>> in_fahrenheit("1230 °C, ceiling 1220")
    '2246 °F, ceiling 2228'
    """
    if "°C" not in words and " K" not in words:
        return words
    claimed = _CLAIMED_HOT if "heated" in words.lower() else _CLAIMED_FAST
    for rule in (claimed, *_RULES):
        words = _compiled(rule).sub(_turn, words)
    # A rate that is not known yet has no figure, but a unit.
    return words.replace("… °C/", "… °F/")


def _turn(found: re.Match[str]) -> str:
    """Turn what a rule has found; its unit says from then on that it has been."""
    parts, end = [], found.start()
    for name, figure in found.groupdict().items():
        if figure is not None:
            parts += [found.string[end : found.start(name)], _figure(figure, is_difference=name[0] == "d")]
            end = found.end(name)
    rest = found.string[end : found.end()]
    return re.sub(r"°C| K\b", lambda unit: " °F" if unit[0] == " K" else "°F", "".join([*parts, rest]))


def _figure(figure: str, *, is_difference: bool) -> str:
    """Turn a figure, to as many decimals as it has, and with its sign as it was written."""
    number = float(figure.replace("−", "-"))
    # What is added keeps a figure from being minus nothing.
    turned = 0.0 + (_FAHRENHEIT.difference(number) if is_difference else _FAHRENHEIT.temp(number))
    plain = figure.lower().partition("e")[0]
    decimals = len(plain.partition(".")[2])
    if decimals == 0 and is_difference and abs(turned) < 10.0 and turned != round(turned):
        decimals = 1
    sign = "+" if figure.startswith("+") and turned > 0 else ""
    said = f"{turned:.{decimals}f}"
    return f"{sign}{said.replace('-', '−') if '−' in figure else said}"
