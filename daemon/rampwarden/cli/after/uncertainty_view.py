"""The uncertainty of a heat's temperatures and ramps, as a table: each part beside the sum."""

from collections.abc import Iterable

from rampwarden.cli.tables import Cell, print_table
from rampwarden.core.instrument import COVERAGE_FACTOR, NOT_IN_IT, StatedTemperature, Uncertainty
from rampwarden.core.quantities import format_slope, slope_in_window_unit
from rampwarden.terminal_text import elapsed

_HEADINGS = ("", "at", "", "±", "class", "junction", "board", "drift", "noise")
_CLOSING = (
    "±: 95 of 100 cases, k = 2, and so is each part beside it. The noise of a single reading stands beside a "
    f"temperature's and is part of a ramp's. Not in it: {NOT_IN_IT}, and so does heat led along its sheath."
)


def print_uncertainty(ends: Iterable[tuple[str, StatedTemperature]], window_s: float = 300.0) -> None:
    """Print what was read where each segment ended and how far it may be off; ramps in the unit of their window."""
    rows: list[tuple[Cell, ...]] = []
    uncovered = False
    for name, stated in ends:
        uncovered = uncovered or not stated.covered
        mark = "" if stated.covered else " *"
        reading = f"{stated.temp_c:.1f} °C{mark}"
        rows.append(
            (
                f"end of {name}",
                elapsed(stated.time_s),
                reading,
                *_parts(stated.temperature, stated.temperature.instrument, 1.0),
            )
        )
        if stated.ramp is not None and stated.ramp_c_per_s is not None:
            scale, _ = slope_in_window_unit(1.0, window_s)
            rows.append(
                ("", "", format_slope(stated.ramp_c_per_s, window_s), *_parts(stated.ramp, stated.ramp.combined, scale))
            )
    print_table(_HEADINGS, rows)
    if rows:
        print(_CLOSING)
    for name, stated in ends:
        if stated.temperature.guess:
            off_c = COVERAGE_FACTOR * stated.temperature.guess
            print(f"Another probe stood in at the end of {name}: its guess alone may be off by ± {off_c:.1f} °C.")
    if uncovered:
        print("* outside the range that the tolerance class covers; its law is carried on.")


def _parts(parts: Uncertainty, whole: float, scale: float) -> tuple[str, ...]:
    figures = (whole, parts.tolerance, parts.junction, parts.board, parts.drift, parts.noise)
    return tuple(f"{COVERAGE_FACTOR * scale * figure:.1f}" for figure in figures)
