"""A crucible's life in letters: mass, oxidation dose, hours and the nearest climb of each heat, one column a heat."""

from collections.abc import Callable, Sequence

from rampwarden.cli.crucibles.fuel import gas_kg
from rampwarden.records import Crucible, RegisteredHeat

_BARS = "▁▂▃▄▅▆▇█"
_ASCII_BARS = "._-=+*%#"
# More heats than this do not fit a line; the last ones are shown.
_MOST = 60
_LEAST_HEATS = 2
UNKNOWN = " "
"""What stands for a heat of which this is not known."""


def life_picture(crucible: Crucible, heats: Sequence[RegisteredHeat], *, plain: bool) -> list[tuple[str, str]]:
    """Give a line for each quantity as its name and its picture; none for a pot of fewer than two true heats."""
    true_heats = [heat for heat in heats if not heat.figures.rehearsal]
    if len(true_heats) < _LEAST_HEATS:
        return []
    masses = [crucible.mass_new_kg, *(heat.mass_after_kg for heat in true_heats)]
    doses = _added_up([heat.figures.dose_min for heat in true_heats])
    hours = _added_up([heat.figures.hot_h for heat in true_heats])
    # Before the first heat there is a mass and nothing else: its column stays free in the other lines.
    lines = [
        ("mass", masses, lambda value: f"{value:g} kg"),
        ("dose, added up", [None, *doses], lambda value: f"{value:.0f} min"),
        ("hours above 700 °C", [None, *hours], lambda value: f"{value:.1f} h"),
        ("nearest to a limit", [None, *map(_nearest, true_heats)], lambda value: f"{value:.0%}"),
        ("gas", [None, *map(gas_kg, true_heats)], lambda value: f"{value:.2f} kg"),
    ]
    shown = ((name, values[-1 - _MOST :], words) for name, values, words in lines)
    return [(name, _line(values, words, plain=plain)) for name, values, words in shown if any(v for v in values)]


def _line(values: Sequence[float | None], words: Callable[[float], str], *, plain: bool) -> str:
    known = [value for value in values if value is not None]
    bars = _bars(values, _ASCII_BARS if plain else _BARS)
    most = f", at most {words(max(known))}" if max(known) > max(known[0], known[-1]) else ""
    return f"{bars}  {words(known[0])} to {words(known[-1])}{most}"


def _bars(values: Sequence[float | None], letters: str) -> str:
    known = [value for value in values if value is not None]
    low, high = min(known), max(known)
    steps = len(letters) - 1
    return "".join(
        UNKNOWN if value is None else letters[round((value - low) / (high - low) * steps) if high > low else 0]
        for value in values
    )


def _added_up(values: Sequence[float]) -> list[float | None]:
    total = 0.0
    sums: list[float | None] = []
    for value in values:
        total += value
        sums.append(total)
    return sums


def _nearest(heat: RegisteredHeat) -> float | None:
    shares = [
        part.climb_c / part.limit_c for part in heat.figures.segments if part.climb_c is not None and part.limit_c
    ]
    return max(shares, default=None)
