"""`rampwarden tell`: a heat in five lines, for whoever comes next."""

from pathlib import Path
from typing import Annotated

import typer

from rampwarden.cli.saying import say
from rampwarden.report.course import read_course
from rampwarden.report.next_shift import five_lines
from rampwarden.report.units import Scale
from rampwarden.report.verdict import judge
from rampwarden.schedule_files import find_schedule, read_schedule


def tell(
    record: Annotated[Path, typer.Argument(help="A heat record (.jsonl, .jsonl.gz).")],
    schedule: Annotated[Path | None, typer.Option("--schedule", help="Judge by this schedule instead.")] = None,
    fahrenheit: Annotated[bool, typer.Option("--fahrenheit", help="Temperatures in °F instead of °C.")] = False,
) -> None:
    """Tell the next shift about a heat, in five lines: pot, heat, what broke, how it was left, what to do."""
    other = None if schedule is None else read_schedule(find_schedule(schedule))[0]
    course, scale = read_course(record, other), Scale(fahrenheit)
    for line in five_lines(course, judge(course, scale), scale):
        say(line)
