"""The maker's sheet, as far as a schedule can be held against it: ramps allowed within ranges of temperature.

A limit is written as it is read: ``20-200 C: at most 30 C / h``, ``200-650 C: at least 40 C / 5 min``,
``cooling 900-200 C: at most 100 C / h``. Knows nothing of crucibles or of where the limits are kept.
"""

import re
from dataclasses import dataclass

from rampwarden.core.quantities import Rate, parse_rate, parse_temperature
from rampwarden.errors import QuantityError

_LIMIT = re.compile(
    r"(?P<cooling>cooling\s+)?(?P<low>-?[\d.]+)\s*(?:-|to|–)\s*(?P<high>-?[\d.]+)\s*°?\s*(?P<unit>[CF])\s*:"
    r"\s*(?P<sense>at most|at least)?\s*(?P<rate>\S.*)",
    re.IGNORECASE,
)
_WANTED = (
    "a limit such as '20-200 C: at most 30 C / h', 'at least' for a slowest one, 'cooling 900-200 C: …' for a fall"
)


@dataclass(frozen=True, slots=True)
class SheetLimit:
    """One ramp of the maker's sheet between `from_c` and `to_c` (the lower one first), °C."""

    from_c: float
    to_c: float
    rate: Rate
    cooling: bool = False
    at_least: bool = False

    def __str__(self) -> str:
        return (
            f"{'cooling ' if self.cooling else ''}{self.from_c:g}-{self.to_c:g} C: "
            f"{'at least' if self.at_least else 'at most'} {self.rate.climb_c:g} C / {window_text(self.rate.window_s)}"
        )

    def overlaps(self, from_c: float, to_c: float) -> bool:
        """Tell whether a climb or fall between two temperatures passes through this limit's range."""
        return max(min(from_c, to_c), self.from_c) < min(max(from_c, to_c), self.to_c)


def parse_sheet_limit(text: str) -> SheetLimit:
    """Read one limit of a maker's sheet; raises `QuantityError` saying what would be right.

    >>> str(parse_sheet_limit("68-392 F: 54 F / h"))
    '20-200 C: at most 30 C / 1 h'
    """
    match = _LIMIT.fullmatch(text.strip())
    if match is None:
        raise QuantityError(f"{text!r} is not {_WANTED}")
    ends_c = sorted(parse_temperature(f"{match[end]} {match['unit']}") for end in ("low", "high"))
    if ends_c[0] == ends_c[1]:
        raise QuantityError(f"{text!r}: its two temperatures are the same; give a range")
    return SheetLimit(
        from_c=round(ends_c[0], 3),
        to_c=round(ends_c[1], 3),
        rate=parse_rate(match["rate"]),
        cooling=match["cooling"] is not None,
        at_least=(match["sense"] or "").lower() == "at least",
    )


def window_text(seconds: float) -> str:
    """Write a window so that it reads back exactly."""
    for unit, length_s in (("h", 3600.0), ("min", 60.0)):
        if seconds % length_s == 0:
            return f"{seconds / length_s:g} {unit}"
    return f"{seconds:g} s"
