"""`rampwarden export`: a record as CSV, for any analysis."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.core.instrument import thermocouple
from rampwarden.core.model import Reading
from rampwarden.errors import RecordError
from rampwarden.records import RecordReader, parameters_of, write_csv


def export(
    record: Annotated[Path, typer.Argument(help="A heat record (.jsonl or .jsonl.gz).")],
    output: Annotated[Path | None, typer.Option("--output", help="CSV file; default: standard output.")] = None,
) -> None:
    """Write a record's readings as CSV, converted by the reference function."""
    with RecordReader(record) as reader:
        parameters = parameters_of(reader.header, str(record))
        couple = thermocouple(parameters.thermocouple_type)
        readings = (line for line in reader if isinstance(line, Reading))
        if output is None:
            write_csv(readings, couple, sys.stdout, parameters.calibration)
            return
        try:
            with output.open("x", encoding="utf-8") as stream:
                write_csv(readings, couple, stream, parameters.calibration)
        except FileExistsError:
            raise RecordError(f"{output}: is there already; choose another name") from None
        except OSError as error:
            raise RecordError(f"{output}: cannot write: {error.strerror}") from error
