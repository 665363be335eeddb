"""A crucible as the register knows it, and what its heats have made of it.

Frozen records without any file behind them. A mark is what is painted on the pot: short, printable, and the same
whether written large or small. Dates are ISO 8601 days.
"""

from datetime import date

import msgspec
from msgspec import Struct

from rampwarden.errors import QuantityError, RegisterError
from rampwarden.plan import CrucibleClass, Pot, class_named, parse_sheet_limit
from rampwarden.records.crucible_retirement import parse_rule
from rampwarden.records.figures import POT_KG

_LONGEST_MARK = 40
_LONGEST_TEXT = 500
STORED = ("dry", "damp")
_DATES = ("bought", "first_used", "retired", "stored_on")
# Bounds against slips of the pen: a wall in metres, a mass in grams.
_RANGES = {
    "wall_mm": (1.0, 200.0),
    "capacity_kg": (0.01, 5000.0),
    "mass_new_kg": POT_KG,
    "sheet_top_c": (100.0, 2500.0),
}


class Crucible(Struct, frozen=True):
    """One pot. `capacity_kg` is of the metal it is kept for; `stored` is dry, damp or not known (empty).

    `stored_on` is the day on which that was said: a heat after it dries the pot. `sheet` holds the maker's limits as
    they are written (see `plan.sheet`), `sheet_id` which sheet they are from. `retire_at` is the rule by which it is
    to be retired (see `crucible_retirement`). Empty text and None: nobody has said.
    """

    mark: str
    crucible_class: str
    description: str = ""
    wall_mm: float | None = None
    capacity_kg: float | None = None
    mass_new_kg: float | None = None
    metal: str = ""
    bought: str = ""
    first_used: str = ""
    retired: str = ""
    retired_why: str = ""
    stored: str = ""
    stored_on: str = ""
    sheet_id: str = ""
    sheet_top_c: float | None = None
    sheet: tuple[str, ...] = ()
    note: str = ""
    retire_at: str = ""


class History(Struct, frozen=True):
    """What a crucible's entered heats come to. Rehearsals count as `rehearsals` and in nothing else.

    `last` is when its last heat began (ISO 8601), empty without any; `last_mass_kg` the mass last weighed.
    """

    heats: int = 0
    rehearsals: int = 0
    last: str = ""
    peak_c: float | None = None
    hot_h: float = 0.0
    dose_min: float = 0.0
    last_mass_kg: float | None = None


def checked(crucible: Crucible) -> Crucible:
    """Give the crucible back if the register may take it; raises `RegisterError` naming the first fault."""
    mark = crucible.mark
    if not mark.strip() or mark != mark.strip() or not mark.isprintable() or len(mark) > _LONGEST_MARK:
        raise RegisterError(f"mark {mark!r}: needs 1 to {_LONGEST_MARK} printable letters, no blank at either end")
    if class_named(crucible.crucible_class) is None:
        raise RegisterError(f"class {crucible.crucible_class!r} is unknown; use one of {', '.join(CrucibleClass)}")
    if crucible.stored not in ("", *STORED):
        raise RegisterError(f"stored {crucible.stored!r}: use {' or '.join(STORED)}")
    for name in _DATES:
        _check_date(name, getattr(crucible, name))
    for name, (lowest, highest) in _RANGES.items():
        value = getattr(crucible, name)
        if value is not None and not lowest <= value <= highest:
            raise RegisterError(f"{name} = {value:g}: must lie between {lowest:g} and {highest:g}; is the unit right?")
    parse_rule(crucible.retire_at)
    for name in ("description", "metal", "retired_why", "sheet_id", "note", "retire_at"):
        if len(getattr(crucible, name)) > _LONGEST_TEXT:
            raise RegisterError(f"{name}: at most {_LONGEST_TEXT} letters")
    try:
        limits = tuple(str(parse_sheet_limit(text)) for text in crucible.sheet)
    except QuantityError as error:
        raise RegisterError(f"limit {error}") from None
    return msgspec.structs.replace(crucible, sheet=limits)


def pot_of(crucible: Crucible, must_dry: str) -> Pot:
    """Give the crucible as a plan takes it; `must_dry` says why it needs drying, empty if it does not."""
    return Pot(
        crucible_class=class_named(crucible.crucible_class),
        wall_mm=crucible.wall_mm,
        sheet=tuple(parse_sheet_limit(text) for text in crucible.sheet),
        sheet_top_c=crucible.sheet_top_c,
        must_dry=must_dry,
        mark=crucible.mark,
    )


def _check_date(name: str, text: str) -> None:
    try:
        day = date.fromisoformat(text) if text else None
    except ValueError:
        day = None
    # The basic form 20260131 is a date too, but one column must sort.
    if text and (day is None or day.isoformat() != text):
        raise RegisterError(f"{name} = {text!r}: is no date such as 2026-01-31")
