"""When a crucible is to be retired, by a person's own rule, and how near its life has come to that.

A rule is written in parts between commas: ``10 %, 40 h, 30 heats``: mass lost, hours above 700 °C, heats. Any other
part is the person's own words, shown and never judged. No rule comes with the program: how long a pot lasts is the
maker's and the workshop's to know.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rampwarden.core.written_numbers import parse_number
from rampwarden.errors import AmbiguousNumberError, QuantityError, RegisterError

if TYPE_CHECKING:
    from rampwarden.records.crucibles import Crucible, History

_PART = re.compile(r"(\d[\d.,]*)\s*(%|h|hours?|heats?)(?:\s+(?:mass|of mass|above 700))?", re.IGNORECASE)
_MOST = 100_000.0
# From so much of a limit on a watch says it at its start: there is time to buy another pot.
NEAR = 0.9
"""Share of a limit that is near it."""


@dataclass(frozen=True, slots=True)
class RetireLimit:
    """One limit: `unit` is %, h or heats."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class RetireStanding:
    """How far a pot has come towards one limit: `words` say it, `share` is 1 where it is reached, None if unknown."""

    words: str
    share: float | None


def parse_rule(text: str) -> tuple[tuple[RetireLimit, ...], tuple[str, ...]]:
    """Read a rule: its limits, and the parts that are the person's own words; raises `RegisterError`."""
    limits: list[RetireLimit] = []
    own: list[str] = []
    for part in (each.strip() for each in re.split(r"[,;](?=\s|$)", text)):
        found = _PART.fullmatch(part)
        if found is None:
            own += [part] if part else []
            continue
        try:
            value = parse_number(found[1])
        except AmbiguousNumberError as error:
            raise RegisterError(f"retire at {part!r}: {error}") from None
        except QuantityError:
            raise RegisterError(f"retire at {part!r}: is no number") from None
        unit = "%" if found[2] == "%" else "heats" if found[2].lower().startswith("heat") else "h"
        if not 0.0 < value <= (100.0 if unit == "%" else _MOST):
            raise RegisterError(f"retire at {part!r}: can never be reached, or is reached at once")
        limits.append(RetireLimit(value, unit))
    return tuple(limits), tuple(own)


def retire_standings(
    rule: str, mass_new_kg: float | None, mass_now_kg: float | None, hot_h: float, heats: int
) -> Iterator[RetireStanding]:
    """Give how far a pot has come towards each part of its rule, the person's own words last."""
    limits, own = parse_rule(rule)
    for limit in limits:
        if limit.unit == "%":
            if mass_new_kg is None or mass_now_kg is None:
                yield RetireStanding(f"{limit.value:g} % of its mass lost: it has not been weighed new and used", None)
                continue
            lost = 100.0 * (1.0 - mass_now_kg / mass_new_kg)
            yield RetireStanding(f"{limit.value:g} % of its mass lost: {lost:.1f} % so far", lost / limit.value)
        elif limit.unit == "h":
            yield RetireStanding(f"{limit.value:g} h above 700 °C: {hot_h:.1f} h so far", hot_h / limit.value)
        else:
            noun = "heat" if limit.value == 1.0 else "heats"
            yield RetireStanding(f"{limit.value:g} {noun}: {heats} so far", heats / limit.value)
    for words in own:
        yield RetireStanding(words, None)


def retirement_of(crucible: "Crucible", history: "History") -> tuple[RetireStanding, ...]:
    """Give how far a pot has come towards each part of the rule by which it is to be retired."""
    masses = crucible.mass_new_kg, history.last_mass_kg
    return tuple(retire_standings(crucible.retire_at, *masses, history.hot_h, history.heats))


def nearest_limit(standings: tuple[RetireStanding, ...]) -> RetireStanding | None:
    """Give the part of a rule that is nearest to being reached; None where none can be told."""
    told = [standing for standing in standings if standing.share is not None]
    return max(told, key=lambda standing: standing.share or 0.0, default=None)
