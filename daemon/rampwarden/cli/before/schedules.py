"""`rampwarden schedule check` and `rampwarden schedule list`."""

from pathlib import Path
from typing import Annotated

import typer

from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING, UNUSABLE
from rampwarden.core.alarms import segment_text
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import Schedule
from rampwarden.errors import ScheduleError, ScheduleUnreadableError
from rampwarden.schedule_files import find_schedule, list_schedules, read_schedule
from rampwarden.terminal_text import error_lines, printable

schedules = typer.Typer(help="Check and list schedules.", no_args_is_help=True)

# A window this long lets the whole climb pass in a minute; nobody who writes "100 C / h" means that.
_LOOSE_WINDOW_S = 1800.0


@schedules.command()
def check(files: Annotated[list[Path], typer.Argument(help="Schedule files, or names from `schedule list`.")]) -> int:
    """Check schedules and show how each would be watched. Exit status 1 when one cannot be, 2 if it cannot be read."""
    status = FINE
    for file in files:
        try:
            schedule, _ = read_schedule(find_schedule(file))
        except ScheduleError as error:
            for line in error_lines(str(error)):
                typer.echo(f"rampwarden: {line}", err=True)
            status = max(status, UNUSABLE if isinstance(error, ScheduleUnreadableError) else FOUND_SOMETHING)
        else:
            _show(file, schedule)
    return status


@schedules.command("list")
def list_known() -> None:
    """List the schedules that can be given by name."""
    for path in list_schedules():
        try:
            schedule, _ = read_schedule(path)
        except ScheduleError:
            typer.echo(f"{path.stem:<36} cannot be used; see: rampwarden schedule check {path}")
        else:
            typer.echo(printable(f"{path.stem:<36} {schedule.title} [{schedule.basis}]"))


def _show(file: Path, schedule: Schedule) -> None:
    typer.echo(printable(f"{file}: {schedule.title} [{schedule.basis or 'no basis given'}]"))
    for index, segment in enumerate(schedule.segments):
        limit = f" · within {format_duration(segment.within_s)}" if segment.within_s else ""
        ceiling = f" · ceiling {segment.ceiling_c:.0f} °C" if segment.ceiling_c is not None else ""
        typer.echo(printable(f"  {index + 1}  {segment_text(schedule, index)}{ceiling}{limit}"))
        for rate in segment.max_rates:
            if rate.window_s > _LOOSE_WINDOW_S:
                quarter = f"{rate.climb_c / 4:g} C / {format_duration(rate.window_s / 4)}"
                typer.echo(
                    f"     look again: {rate.climb_c:g} °C may pass at once inside {format_duration(rate.window_s)}; "
                    f"'{quarter}' holds the same slope closer"
                )
