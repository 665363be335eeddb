"""Marks that bring a weight: `bottle-weighs 14.2 kg`, `pot-weighs 3.52 kg`."""

import re

from rampwarden.core.model import mark_name
from rampwarden.core.written_numbers import parse_number
from rampwarden.errors import AmbiguousNumberError, QuantityError

BOTTLE, POT = "bottle", "pot"
_WEIGHS = re.compile(rf"({BOTTLE}|{POT})-weighs-(\d[\d.,]{{0,12}})(?:-?kg)?", re.ASCII)
# No bottle or pot of a small foundry weighs as much, kg.
_MOST_KG = 10_000.0


def maybe_weight_kg(text: str, of: str) -> float | None:
    """Give the weight of a bottle or pot that a mark tells, kg; None for a mark of something else, or of no weight.

    Raises `AmbiguousNumberError` where its comma may part decimals or thousands.

    >>> maybe_weight_kg("bottle weighs 14,2 kg", BOTTLE), maybe_weight_kg("bottle-changed", BOTTLE)
    (14.2, None)
    """
    found = _WEIGHS.fullmatch(mark_name(text))
    if found is None or found[1] != of:
        return None
    try:
        kg = parse_number(found[2])
    except AmbiguousNumberError as error:
        raise AmbiguousNumberError(
            f"{of}-weighs {found[2]} kg: {found[2]}", *(f"{reading} kg" for reading in error.readings)
        ) from None
    except QuantityError:
        return None
    return kg if kg < _MOST_KG else None


def refuse_ambiguous(text: str) -> None:
    """Raise `AmbiguousNumberError` for a mark whose weight may be read in two ways; pass every other."""
    for of in (BOTTLE, POT):
        maybe_weight_kg(text, of)
