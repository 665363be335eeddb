"""`rampwarden convert`: EMF to temperature and back, for checking a board or a table by hand."""

import json
import math
import sys
from collections.abc import Iterable, Iterator
from typing import Annotated

import typer

from rampwarden.core.instrument import (
    COVERAGE_FACTOR,
    NOT_IN_IT,
    Thermocouple,
    expanded_uncertainty_c,
    is_covered,
    thermocouple,
    what_is_in_it,
)
from rampwarden.errors import RampwardenError

_USUAL_CLASS = 2
"""Of IEC 60584-1: what is sold unless one asks."""


def convert(
    values: Annotated[
        list[str] | None, typer.Argument(help="EMF in µV (°C with --inverse); none: standard input.")
    ] = None,
    kind: Annotated[str, typer.Option("--type", help="Thermocouple type: B E J K N R S T.")] = "K",
    junction: Annotated[float, typer.Option(help="Reference junction, °C.")] = 0.0,
    inverse: Annotated[bool, typer.Option("--inverse", help="From temperatures to EMF.")] = False,
    tolerance_class: Annotated[
        int | None,
        typer.Option(
            min=1, max=2, help="Say too how far such a thermocouple (IEC 60584-1) may be off.", show_default=False
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line, full precision.")] = False,
) -> None:
    """Convert thermocouple EMF to temperature by the ITS-90 reference function (NIST Monograph 175, IEC 60584-1)."""
    couple = _couple(kind)
    for text in values or _lines(sys.stdin):
        value = _number(text)
        emf_uv, temp_c = _convert(couple, value, junction, inverse=inverse)
        off_c = expanded_uncertainty_c(couple, tolerance_class or _USUAL_CLASS, temp_c)
        if as_json:
            told = {"emf_uv": emf_uv, "junction_c": junction, "temp_c": temp_c}
            print(json.dumps(told | {"uncertainty_c": round(off_c, 2), "coverage_factor": COVERAGE_FACTOR}))
        elif inverse:
            print(f"{emf_uv:.3f} µV")
        elif tolerance_class is None:
            print(f"{temp_c:.3f} °C")
        else:
            print(f"{temp_c:.3f} °C ± {off_c:.1f} ({_what_of(couple, tolerance_class, temp_c)})")


def _what_of(couple: Thermocouple, tolerance_class: int, temp_c: float) -> str:
    """Say what the figure holds, and where the class promises nothing."""
    beyond = "" if is_covered(couple, tolerance_class, temp_c) else "; outside its class, whose law is carried on"
    return f"{what_is_in_it(couple.letter)}{beyond}; {NOT_IN_IT}"


def _convert(couple: Thermocouple, value: float, junction_c: float, *, inverse: bool) -> tuple[float, float]:
    try:
        if inverse:
            return couple.emf_uv(value) - couple.emf_uv(junction_c), value
        return value, couple.temp_c(value, junction_c)
    except ValueError as error:
        raise RampwardenError(str(error)) from None


def _couple(kind: str) -> Thermocouple:
    try:
        return thermocouple(kind.upper())
    except ValueError as error:
        raise RampwardenError(str(error)) from None


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise RampwardenError(f"{text!r} is not a number")
    return value


def _lines(stream: Iterable[str]) -> Iterator[str]:
    try:
        yield from (line.strip() for line in stream if line.strip())
    except UnicodeDecodeError:
        raise RampwardenError("standard input is no text; give one number a line") from None
