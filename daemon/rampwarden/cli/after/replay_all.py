"""`rampwarden replay --all PLACE`: what other limits would have said over every heat of a folder or an archive."""

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import msgspec
import typer

from rampwarden.archive import Chosen, listed, packed
from rampwarden.assembly.archive_opening import open_archive
from rampwarden.assembly.heat import monitor_parameters
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.cli.tables import print_table
from rampwarden.core.quantities import format_duration
from rampwarden.errors import ArchiveError, RecordError, SettingsError
from rampwarden.mass_replay import HeatAnswer, Moved, Otherwise, Raised, Task, run_in_processes, run_on_cluster
from rampwarden.schedule_files import find_schedule, read_schedule
from rampwarden.settings import load_settings
from rampwarden.terminal_text import elapsed, printable, visible_json

FORMAT = "rampwarden-replays/1"
_EVERY_HEAT = 1_000_000
_HEADINGS = ("heat", "began", "pot", "schedule", "before", "after", "new", "gone", "earlier", "later")


def replay_all(
    place: str,
    schedule: Path | None,
    settings: Path | None,
    *,
    jobs: int,
    dask: str | None,
    as_json: bool,
    is_alone: bool,
) -> int:
    """Print one row a heat; exit status 1 when a heat could not be judged."""
    if not is_alone:
        raise typer.BadParameter("--all goes with --schedule, --settings, --jobs, --dask and --json alone")
    if schedule is None and settings is None:
        raise typer.BadParameter("--all asks what other limits would have said: give --schedule or --settings, or both")
    otherwise = Otherwise(
        None if schedule is None else read_schedule(find_schedule(schedule))[1],
        None if settings is None else monitor_parameters(load_settings(settings, {}, os.environ).settings),
    )
    tasks = tasks_of(place)
    if not tasks:
        raise RecordError(f"{place}: there are no heat records")
    with _progress(len(tasks)) as done:
        if dask is not None:
            answers = run_on_cluster(tasks, otherwise, dask, done)
        else:
            answers = run_in_processes(tasks, otherwise, min(jobs or os.cpu_count() or 1, len(tasks)), done)
    if as_json:
        rows = [msgspec.to_builtins(each) for each in answers]
        print(visible_json(json.dumps({"format": FORMAT, "heats": rows}, ensure_ascii=False)))
    else:
        print_table(_HEADINGS, [_cells(each) for each in answers if not each.trouble])
        for each in answers:
            if each.trouble:
                print(printable(f"{each.heat}: {each.trouble}"))
        print(_conclusion(answers))
    return FOUND_SOMETHING if any(each.trouble for each in answers) else FINE


def tasks_of(place: str) -> list[Task]:
    """Give every heat of a folder of records, by name, or of an archive, by when it began; raises in one line.

    An archive within a folder of records holds the same heats again, and is passed over.
    """
    folder = Path(place)
    if "://" not in place and not (folder / "archive.json").exists():
        if not folder.is_dir():
            raise RecordError(f"{place}: is no folder of records, and no archive")
        archives = {path.parent for path in folder.rglob("archive.json")}
        paths = sorted([*folder.rglob("*.jsonl"), *folder.rglob("*.jsonl.gz")])
        own = (path for path in paths if _may_be_record(path) and archives.isdisjoint(path.parents))
        return [Task(str(path.relative_to(folder)), path=str(path)) for path in own]
    try:
        chosen = load_settings(None, {"archive.place": place}, os.environ).settings
    except SettingsError as error:
        raise ArchiveError(str(error)) from None
    everything = Chosen(with_rehearsals=True, with_false_starts=True)
    tasks: list[Task] = []
    # Packed as in the archive: all of them lie in memory, and may be sent to other computers.
    with closing(open_archive(chosen, os.environ)) as archive:
        for row in reversed(listed(archive.database, everything, _EVERY_HEAT)):
            try:
                tasks.append(Task(row.id, content=packed(archive.record(row.id))))
            except ArchiveError as error:
                # It has its row all the same, which says why there is nothing in it.
                typer.echo(printable(f"rampwarden: {error}"), err=True)
                tasks.append(Task(row.id, content=b""))
    return tasks


def _may_be_record(path: Path) -> bool:
    """Leave out what lies beside recorded cases: expectations are events without a header."""
    return not path.name.startswith("expected.")


@contextmanager
def _progress(total: int) -> Iterator[Callable[[], None]]:
    """Give what is called after each heat; at a terminal it moves a bar."""
    if not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console  # noqa: PLC0415  (for nothing else)
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn  # noqa: PLC0415

    columns = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(file=sys.stderr), transient=True) as bar:
        task = bar.add_task("heats", total=total)
        yield lambda: bar.advance(task)


def _cells(each: HeatAnswer) -> tuple[str, ...]:
    return (
        each.heat,
        each.started[:16].replace("T", " "),
        each.mark or "–",
        each.title,
        str(each.before),
        str(each.after),
        _raised(each.new),
        _raised(each.gone),
        _moved(each.earlier),
        _moved(each.later),
    )


def _raised(alarms: tuple[Raised, ...]) -> str:
    return ", ".join(f"{each.alarm} {elapsed(each.time_s)}" for each in alarms) or "–"


def _moved(alarms: tuple[Moved, ...]) -> str:
    return ", ".join(f"{each.alarm} by {format_duration(abs(each.earlier_s))}" for each in alarms) or "–"


def _conclusion(answers: list[HeatAnswer]) -> str:
    judged = [each for each in answers if not each.trouble]
    sums = {name: sum(len(getattr(each, name)) for each in judged) for name in ("new", "gone", "earlier", "later")}
    before, after = sum(each.before for each in judged), sum(each.after for each in judged)
    parts = [f"{len(judged)} of {len(answers)} heats", f"{before} alarms before, {after} after"]
    return " · ".join([*parts, *(f"{count} {name}" for name, count in sums.items())])
