"""`rampwarden spot`: a spot thermometer's reading, corrected and held against the thermocouple of a running watch."""

import os
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.cli.during.status import WatchOption
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.control import FORMAT, STATUS, Request, ask
from rampwarden.core.instrument import board_figures, expanded_uncertainty_c, thermocouple
from rampwarden.core.model import CommandName, Event, EventName
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.quantities import parse_temperature
from rampwarden.errors import ControlError, RecordError
from rampwarden.records import RecordReader, parameters_of
from rampwarden.spot import (
    ROOM,
    Cavity,
    SpotCheck,
    Suspect,
    doubt,
    make_check,
    note_text,
    parse_band,
    read_note,
    spot_uncertainty_c,
    thermocouple_now,
)
from rampwarden.terminal_text import printable

_NO_CLASS_C = 15.0
"""± °C for a thermocouple of which nothing is known: twice a class 2 wire at red heat. Common practice, no source."""


def spot(
    reading: Annotated[str, typer.Argument(help="What it shows: 914, '914 C' or '1677 F'.", show_default=False)],
    set_emissivity: Annotated[float, typer.Option(help="What the spot thermometer is set to.")] = 0.95,
    emissivity: Annotated[float, typer.Option(help="What the surface has in this band.")] = 0.8,
    band: Annotated[str, typer.Option(help="What it sees: 8-14um, 1um, …, or total.")] = "8-14um",
    wall: Annotated[
        str | None, typer.Option(help="Temperature of the walls it reflects; else the room.", show_default=False)
    ] = None,
    cavity: Annotated[
        float | None,
        typer.Option(help="Looked into the empty pot: its depth in diameters of the mouth.", show_default=False),
    ] = None,
    watch: WatchOption = "",
    note: Annotated[bool, typer.Option(help="Write it into the running heat.")] = True,
) -> int:
    """Correct a spot thermometer's reading, and say which to doubt if the thermocouple disagrees (exit status 1)."""
    surface = emissivity if cavity is None else Cavity(emissivity, cavity)
    around_c = _temperature(wall if wall is not None else ROOM)
    check = make_check(
        _temperature(reading), parse_band(band), set_emissivity, surface, around_c, around_given=wall is not None
    )
    sure_c = spot_uncertainty_c(check)
    print(
        f"{check.corrected_c:.0f} ± {sure_c:.0f} °C · shown {check.reading_c:.0f}, "
        f"surface {check.emissivity:.2f}, {check.band}"
    )
    try:
        snapshot = ask(os.environ, watch, Request(FORMAT, STATUS)).snapshot
    except ControlError as error:
        if watch:
            raise
        print(f"rampwarden: not compared: {printable(str(error))}", file=sys.stderr)
        return FINE
    if snapshot is None:
        raise ControlError("the watch gave no status; is it of another version?")
    check = replace(check, thermocouple_c=thermocouple_now(snapshot.status, snapshot.age_s))
    heat = _heat_so_far(Path(snapshot.about.record))
    suspicious = _compare(check, heat)
    if note:
        answer = ask(os.environ, snapshot.about.watch, Request(FORMAT, CommandName.NOTE, text=note_text(check)))
        print(printable(answer.text))
    return FOUND_SOMETHING if suspicious else FINE


@dataclass(frozen=True, slots=True)
class _Heat:
    """What a running heat's record tells: its thermocouple, and the checks before this one with their times."""

    parameters: MonitorParameters | None = None
    earlier: tuple[SpotCheck, ...] = ()


def _temperature(text: str) -> float:
    """Read a temperature; a bare number is °C."""
    try:
        return parse_temperature(f"{float(text)} C")
    except ValueError:
        return parse_temperature(text)


def _heat_so_far(record: Path) -> _Heat:
    """Read the running heat's record; who may speak to a watch may not always read it, and then it tells nothing."""
    try:
        with RecordReader(record) as reader:
            parameters = parameters_of(reader.header, str(record))
            notes = [line.text for line in reader if isinstance(line, Event) and line.event is EventName.NOTE]
    except RecordError as error:
        print(f"rampwarden: earlier spot checks are left out: {printable(str(error))}", file=sys.stderr)
        return _Heat()
    earlier = tuple(check for check in map(read_note, notes) if check is not None)
    return _Heat(parameters, earlier)


def _compare(check: SpotCheck, heat: _Heat) -> bool:
    """Print how the two compare; tells whether one is to be doubted."""
    if check.thermocouple_c is None or check.difference_c is None:
        print("the thermocouple has no temperature to be believed just now: nothing to compare with")
        return False
    found = doubt(check, _uncertainty_c(heat, check.thermocouple_c), heat.earlier)
    print(f"thermocouple {check.thermocouple_c:.0f} °C · spot {check.difference_c:+.0f} °C")
    differences = [each.difference_c for each in heat.earlier if each.difference_c is not None]
    if differences:
        print("earlier in this heat: " + ", ".join(f"{each:+.0f}" for each in differences[-8:]) + " °C")
    if found is None:
        return False
    print(f"doubt {found.suspect.value}: {found.why}")
    return found.suspect is not Suspect.NEITHER


def _uncertainty_c(heat: _Heat, temp_c: float) -> float:
    known = heat.parameters
    if known is None:
        return _NO_CLASS_C
    couple = thermocouple(known.thermocouple_type)
    return expanded_uncertainty_c(couple, known.tolerance_class, temp_c, board_figures(known.calibration))
