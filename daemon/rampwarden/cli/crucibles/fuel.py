"""What a crucible's heats took of gas, and what that cost by the workshop's own price."""

from collections.abc import Iterator, Sequence

from rampwarden.core.quantities import counted
from rampwarden.records import RegisteredHeat


def gas_kg(heat: RegisteredHeat) -> float | None:
    """Give the gas a heat took, kg; None if it was not followed."""
    return None if heat.figures.physics is None else heat.figures.physics.gas_kg


def fuel_words(kg: float | None, price: float | None) -> str:
    """Say how much gas that is, and at a price a kilogram what it cost.

    >>> fuel_words(1.614, 3.2), fuel_words(1.614, None), fuel_words(None, 3.2)
    ('1.61 kg, cost 5.16', '1.61 kg', '–')
    """
    if kg is None:
        return "–"
    return f"{kg:.2f} kg" if price is None else f"{kg:.2f} kg, cost {kg * price:.2f}"


def fuel_facts(heats: Sequence[RegisteredHeat], price: float | None) -> Iterator[tuple[str, str]]:
    """Give a line on the gas of all true heats of which it is known; none where it is known of none."""
    known = [kg for heat in heats if not heat.figures.rehearsal and (kg := gas_kg(heat)) is not None]
    if known:
        heats_word = counted(len(known), "1 heat", "heats")
        each = fuel_words(sum(known) / len(known), price)
        yield "gas", f"{fuel_words(sum(known), price)} in {heats_word}" + (f"; a heat {each}" if len(known) > 1 else "")
