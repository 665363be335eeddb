"""Under which schedule a heat of the past is judged: one that was chosen, else its record's own."""

from pathlib import Path

import typer

from rampwarden.core.schedule import Schedule
from rampwarden.records import Header, schedule_of
from rampwarden.schedule_files import find_schedule, read_schedule


def schedule_for_record(record: Path, header: Header, chosen: Path | None) -> Schedule:
    """Give the chosen schedule, else that of the record; raises `ScheduleError` or `RecordError`."""
    return schedule_of(header, str(record)) if chosen is None else read_schedule(find_schedule(chosen))[0]


def schedule_for_csv(chosen: Path | None) -> Schedule:
    """Give the chosen schedule; a CSV file has none of its own, which is a mistake in the command."""
    if chosen is None:
        raise typer.BadParameter("a CSV file carries no schedule; give one with --schedule FILE")
    return read_schedule(find_schedule(chosen))[0]
