"""`rampwarden report`: one heat on paper, or several side by side."""

import sys
from collections.abc import Callable, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rampwarden.core.quantities import parse_temperature
from rampwarden.errors import QuantityError, ReportError
from rampwarden.records import header_remarks
from rampwarden.report.course import Course, read_course
from rampwarden.report.units import Scale
from rampwarden.schedule_files import find_schedule, read_schedule
from rampwarden.terminal_text import printable

if TYPE_CHECKING:
    from rampwarden.report.assembling import Edition

_FORMATS = (".html", ".svg", ".png", ".pdf")
_MOST_RECORDS = 8


def report(
    records: Annotated[list[Path], typer.Argument(help="Heat records (.jsonl, .jsonl.gz); several are overlaid.")],
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            help="Where to: .html with everything, .pdf, or the drawing as .svg, .png; else beside the record.",
            show_default=False,
        ),
    ] = None,
    fahrenheit: Annotated[bool, typer.Option("--fahrenheit", help="Temperatures in °F instead of °C.")] = False,
    align_at: Annotated[
        str | None,
        typer.Option("--align-at", help="Lay several heats over one another where they pass, as '200 C'."),
    ] = None,
    schedule: Annotated[Path | None, typer.Option("--schedule", help="Judge by this schedule instead.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write over an older report.")] = False,
) -> None:
    """Report a heat: drawing, verdict in plain words, what the crucible is ready for and what to look at."""
    output = beside(records) if output is None else output
    _check(records, output, replace=replace)
    align_c = _alignment(align_at, len(records))
    other = None if schedule is None else read_schedule(find_schedule(schedule))[0]
    courses = [read_course(record, other) for record in records]
    for course in courses:
        for remark in header_remarks(course.header):
            print(f"rampwarden: {printable(f'{course.path}: {remark}')}", file=sys.stderr)
    edition = _editor()(courses, Scale(fahrenheit), align_c)
    try:
        edition.save(output)
    except OSError as error:
        raise ReportError(f"{output}: cannot write: {error.strerror or error}") from error
    for headline in edition.headlines:
        print(printable(headline))
    print(printable(f"report in {output}"))


def beside(records: Sequence[Path]) -> Path:
    """Give where a report goes by itself: beside its record under its name, or of several as heats.html here."""
    if len(records) > 1:
        return Path("heats.html")
    name = records[0].name.removesuffix(".gz").removesuffix(".jsonl")
    return records[0].with_name(f"{name}.html")


def _check(records: list[Path], output: Path, *, replace: bool) -> None:
    if output.suffix.lower() not in _FORMATS:
        raise ReportError(f"{output}: a report is written as {', '.join(_FORMATS)}; give one of these endings")
    if len(records) > _MOST_RECORDS:
        raise ReportError(f"{len(records)} records: more than {_MOST_RECORDS} in one drawing cannot be told apart")
    if output.exists() and not replace:
        raise ReportError(f"{output}: is there already; choose another name, or --replace")
    if any(record.exists() and output.exists() and record.samefile(output) for record in records):
        raise ReportError(f"{output}: is the record itself; choose another name")


def _alignment(align_at: str | None, records: int) -> float | None:
    if align_at is None:
        return None
    if records < 2:
        raise ReportError("--align-at lays heats over one another; give two records or more")
    try:
        return parse_temperature(align_at)
    except QuantityError as error:
        raise QuantityError(f"--align-at {error}") from None


def _editor() -> Callable[[list[Course], Scale, float | None], "Edition"]:
    """Give what edits a report; it needs matplotlib, which a watch does without."""
    if find_spec("matplotlib") is None:
        raise ReportError("a report is drawn by matplotlib, which is not installed: pip install 'rampwarden[report]'")
    # Half a second and 40 MB that no other command should pay for.
    from rampwarden.report.assembling import edit  # noqa: PLC0415

    return edit
