"""`rampwarden convert`: EMF to temperature and back, for checking a board or a table by hand."""

import json
import math
import sys
from collections.abc import Iterable, Iterator
from typing import Annotated

import typer

from rampwarden.core.instrument import Thermocouple, thermocouple
from rampwarden.errors import RampwardenError


def convert(
    values: Annotated[
        list[str] | None, typer.Argument(help="EMF in µV (°C with --inverse); none: standard input.")
    ] = None,
    kind: Annotated[str, typer.Option("--type", help="Thermocouple type: B E J K N R S T.")] = "K",
    junction: Annotated[float, typer.Option(help="Reference junction, °C.")] = 0.0,
    inverse: Annotated[bool, typer.Option("--inverse", help="From temperatures to EMF.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line, full precision.")] = False,
) -> None:
    """Convert thermocouple EMF to temperature by the ITS-90 reference function (NIST Monograph 175, IEC 60584-1)."""
    couple = _couple(kind)
    for text in values or _lines(sys.stdin):
        value = _number(text)
        emf_uv, temp_c = _convert(couple, value, junction, inverse=inverse)
        if as_json:
            print(json.dumps({"emf_uv": emf_uv, "junction_c": junction, "temp_c": temp_c}))
        else:
            print(f"{emf_uv:.3f} µV" if inverse else f"{temp_c:.3f} °C")


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
