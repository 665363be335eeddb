"""`rampwarden export`: a record as CSV, for any analysis, or a moment of it as a case that replays."""

import re
import shlex
import sys
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.core.instrument import thermocouple
from rampwarden.core.model import ProbeReading, Reading
from rampwarden.core.quantities import format_duration
from rampwarden.errors import RecordError
from rampwarden.records import RecordReader, parameters_of, write_csv
from rampwarden.terminal_text import printable

_AT = re.compile(r"(\d{1,4}):([0-5]\d):([0-5]\d)")


def export(
    record: Annotated[Path, typer.Argument(help="A heat record (.jsonl or .jsonl.gz).")],
    output: Annotated[Path | None, typer.Option("--output", help="CSV file; default: standard output.")] = None,
    case: Annotated[
        Path | None,
        typer.Option("--case", help="Instead: a new folder with each moment that was said to be wrong, to be sent in."),
    ] = None,
    at: Annotated[
        str, typer.Option("--at", help="With --case: this moment of the heat, H:MM:SS.", show_default=False)
    ] = "",
) -> None:
    """Write a record's readings as CSV, converted by the reference function; or what was wrong as a case."""
    if case is not None:
        if output is not None:
            raise typer.BadParameter("--output is for CSV; --case names its own folder")
        _export_cases(record, case, at)
        return
    if at:
        raise typer.BadParameter("--at goes with --case")
    with RecordReader(record) as reader:
        parameters = parameters_of(reader.header, str(record))
        couple = thermocouple(parameters.thermocouple_type)
        probes = {probe.name: (thermocouple(probe.thermocouple_type), probe.calibration) for probe in parameters.probes}
        readings = (line for line in reader if isinstance(line, Reading | ProbeReading))
        if output is None:
            write_csv(readings, couple, sys.stdout, parameters.calibration, probes)
            return
        try:
            with output.open("x", encoding="utf-8") as stream:
                write_csv(readings, couple, stream, parameters.calibration, probes)
        except FileExistsError:
            raise RecordError(f"{output}: is there already; choose another name") from None
        except OSError as error:
            raise RecordError(f"{output}: cannot write: {error.strerror}") from error


def _export_cases(record: Path, folder: Path, at: str) -> None:
    """Write the cases, and say what is in them and where they are of use."""
    from rampwarden.cli.after.replay_case import write_cases  # noqa: PLC0415 (a CSV does without the monitor)

    for case in write_cases(record, folder, _seconds(at) if at else None):
        print(printable(f"{case.folder}: {case.about} · {case.readings} readings over {format_duration(case.seconds)}"))
    print("Nothing in it tells whose heat it was: no names, dates, notes, ports or pots. See for yourself:")
    named = printable(shlex.quote(str(folder)))
    print(f"  rampwarden replay {named}/*/heat.jsonl.gz")
    print(f"Then send the folder to where you got rampwarden, as an issue or by mail: tar czf case.tar.gz {named}")


def _seconds(at: str) -> float:
    found = _AT.fullmatch(at)
    if found is None:
        raise typer.BadParameter(f"--at {at!r}: a moment of the heat is H:MM:SS, as replay prints it")
    hours, minutes, seconds = (int(part) for part in found.groups())
    return 3600.0 * hours + 60.0 * minutes + seconds
