"""`rampwarden schedule …`: what schedules there are, a copy or a new one of one's own, and what is wrong with it."""

from pathlib import Path
from typing import Annotated

import typer

from rampwarden.cli import questions
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING, UNUSABLE
from rampwarden.cli.saying import say
from rampwarden.core.alarms import segment_text
from rampwarden.core.heat import schedule_doubts
from rampwarden.core.instrument import Thermocouple, thermocouple
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import HeatNumber, Schedule
from rampwarden.errors import ScheduleError, ScheduleUnreadableError
from rampwarden.plan import CrucibleClass
from rampwarden.schedule_files import find_schedule, list_schedules, read_schedule
from rampwarden.terminal_text import error_lines, printable

schedules = typer.Typer(help="Make, check and list schedules.", no_args_is_help=True)

NameArgument = Annotated[Path, typer.Argument(help="A name from `schedule list`, or a file.", show_default=False)]
TypeOption = Annotated[str, typer.Option("--type", help="The thermocouple's type: B E J K N R S T.")]


@schedules.command()
def check(
    files: Annotated[list[Path], typer.Argument(help="Schedule files, or names from `schedule list`.")],
    kind: TypeOption = "K",
) -> int:
    """Check schedules and show how each would be watched. Exit status 1 when one cannot be, 2 if it cannot be read."""
    status = FINE
    couple = _couple(kind)
    for file in files:
        try:
            schedule, _ = read_schedule(find_schedule(file))
        except ScheduleError as error:
            for line in error_lines(str(error)):
                say(f"rampwarden: {line}", to_errors=True)
            status = max(status, UNUSABLE if isinstance(error, ScheduleUnreadableError) else FOUND_SOMETHING)
        else:
            status = max(status, _show(file, schedule, couple))
    return status


@schedules.command("list")
def list_known() -> None:
    """List the schedules that can be given by name."""
    files = list_schedules()
    width = max((len(path.stem) for path in files), default=0)
    by_basis: dict[str, list[str]] = {}
    for path in files:
        try:
            schedule, _ = read_schedule(path)
        except ScheduleError:
            by_basis.setdefault("", []).append(
                f"{path.stem:<{width}}  cannot be used; see: rampwarden schedule check {path}"
            )
        else:
            by_basis.setdefault(schedule.basis, []).append(f"{path.stem:<{width}}  {schedule.title}")
    for basis, lines in by_basis.items():
        for line in lines:
            say(line, hanging=width + 2)
        # Once for all that share it: most do.
        if basis:
            say(f"  [{basis}]")


@schedules.command("show")
def show_text(name: NameArgument) -> None:
    """Print a schedule's file, comments and all."""
    for line in _text_of(name).splitlines():
        typer.echo(printable(line))


@schedules.command("copy")
def copy_known(
    name: NameArgument,
    file: Annotated[Path, typer.Argument(help="The file to write, such as my-heat.toml.", show_default=False)],
) -> None:
    """Copy a schedule into a file of your own, to be changed with any editor."""
    from rampwarden.cli.before.schedule_new import write_new  # noqa: PLC0415 (not needed to check or list)

    write_new(file, _text_of(name))
    say(f"{file}: a copy of {name}; change it with any editor, then:")
    say(f"  rampwarden schedule check {file}")


@schedules.command("new")
def new_file(
    file: Annotated[Path, typer.Argument(help="The file to write, such as my-heat.toml.", show_default=False)],
    crucible: Annotated[
        str | None, typer.Option(help="Mark of a registered crucible: its class and its sheet's limits are taken.")
    ] = None,
    crucible_class: Annotated[CrucibleClass | None, typer.Option("--class", help="Bond and body.")] = None,
    heat: Annotated[HeatNumber | None, typer.Option(help="Its first heat, which dries it, or a later one.")] = None,
    top: Annotated[str | None, typer.Option(help="Working temperature, as '1150 C'.")] = None,
    hold: Annotated[str | None, typer.Option(help="How long to hold it, as '30 min'.")] = None,
    limit: Annotated[
        list[str] | None, typer.Option(help="A ramp of the sheet, as '20-200 C: at most 30 C / h'; may be repeated.")
    ] = None,
    oven: Annotated[bool | None, typer.Option(help="It dries in an oven and is carried to the furnace.")] = None,
    checklist: Annotated[
        bool | None, typer.Option(help="A checklist before lighting up, and a question for mist; else as comments.")
    ] = None,
    title: Annotated[str | None, typer.Option(help="What the heat is called.")] = None,
    kind: TypeOption = "K",
    config: Annotated[Path | None, typer.Option(help="Settings file (TOML), which says where the register is.")] = None,
    register: Annotated[str | None, typer.Option(help="The register's file or server, instead of the set one.")] = None,
) -> int:
    """Draft a schedule into a file: asks what is not given, and takes a registered crucible's sheet limits."""
    from rampwarden.cli.before.schedule_new import NewSchedule, draft_file  # noqa: PLC0415 (as above)

    limits = tuple(limit or ())
    given = NewSchedule(crucible, crucible_class, heat, top, hold, limits, oven, checklist, title, config, register)
    couple = _couple(kind)
    status = _show(file, draft_file(file, given, ask=questions.can_ask()), couple)
    say(f"written: {file}; look over every line, then:")
    say(f"  rampwarden rehearse {file} --speed 600")
    return status


def _text_of(name: Path) -> str:
    file = find_schedule(name)
    # Whoever copies or prints one that cannot be used learns why.
    read_schedule(file)
    return file.read_text(encoding="utf-8-sig")


def _couple(kind: str) -> Thermocouple:
    try:
        return thermocouple(kind.upper())
    except ValueError as error:
        raise ScheduleError(f"--type: {error}") from None


def _show(file: Path, schedule: Schedule, couple: Thermocouple) -> int:
    """Print how a schedule would be watched, and what is doubtful below each segment; gives the exit status."""
    doubts = schedule_doubts(schedule, couple.letter, couple.range_c)
    say(f"{file}: {schedule.title} [{schedule.basis or 'no basis given'}]")
    for line in schedule.checklist:
        say(f"  □  {line}", hanging=5)
    for index, segment in enumerate(schedule.segments):
        limit = f" · within {format_duration(segment.within_s)}" if segment.within_s else ""
        ceiling = f" · ceiling {segment.ceiling_c:.0f} °C" if segment.ceiling_c is not None else ""
        say(f"  {index + 1}  {segment_text(schedule, index)}{ceiling}{limit}", hanging=5)
        for asked in segment.asks:
            choice = f" · {' / '.join(asked.answers)}" if asked.answers else ""
            say(f"     asks after {format_duration(asked.after_s)}: {asked.question}{choice}", hanging=7)
        for doubt in doubts:
            if doubt.index == index:
                say(f"     {'cannot be' if doubt.impossible else 'look again'}: {doubt.words}", hanging=7)
    return FOUND_SOMETHING if any(doubt.impossible for doubt in doubts) else FINE
