"""`rampwarden heats …`: look back over every heat that was kept."""

import json
import os
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Annotated

import msgspec
import typer
from msgspec import Struct

from rampwarden.archive import (
    Archive,
    Chosen,
    Grouping,
    HeatRow,
    TrendRow,
    heats_page,
    listed,
    overlay,
    row_of,
    trend,
)
from rampwarden.assembly.archive_opening import open_archive
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.cli.tables import print_csv, print_table
from rampwarden.core.quantities import format_duration
from rampwarden.errors import ArchiveError, RampwardenError
from rampwarden.settings import Settings, load_settings
from rampwarden.terminal_text import printable, visible_json

FORMAT = "rampwarden-heats/1"
_MOST_OVERLAID = 8

heats = typer.Typer(help="Look back over every heat that was kept: list, compare, see trends.", no_args_is_help=True)

ArchiveOption = Annotated[
    str | None, typer.Option("--archive", help="A folder or server, instead of the set one.", show_default=False)
]
JsonOption = Annotated[bool, typer.Option("--json", help="JSON, for programs.")]
CsvOption = Annotated[bool, typer.Option("--csv", help="CSV, for a spreadsheet.")]
HtmlOption = Annotated[Path | None, typer.Option("--html", help="Into this file, as a page.", show_default=False)]
FurnaceOption = Annotated[str, typer.Option("--furnace", help="Of this furnace.", show_default=False)]
MarkOption = Annotated[str, typer.Option("--crucible", help="Of this pot.", show_default=False)]
ScheduleOption = Annotated[str, typer.Option("--schedule", help="Whose schedule's title has this.", show_default=False)]
MetalOption = Annotated[str, typer.Option("--metal", help="Of this metal.", show_default=False)]
AlarmOption = Annotated[str, typer.Option("--alarm", help="In which this alarm was raised.", show_default=False)]
SinceOption = Annotated[str, typer.Option("--since", help="From this day on, as 2026-01-31.", show_default=False)]
UntilOption = Annotated[str, typer.Option("--until", help="Up to this day.", show_default=False)]
RehearsalsOption = Annotated[bool, typer.Option("--rehearsals", help="Rehearsals too.")]
AllOption = Annotated[bool, typer.Option("--false-starts", help="Watches too in which nothing was ever warm.")]
HeatArgument = Annotated[str, typer.Argument(help="The heat's id, as the list shows it.", show_default=False)]

_LIST = ("heat", "began", "furnace", "pot", "schedule", "lasted", "highest", "soaked", "over", "dose", "alarms")
_TREND = ("heats", "alarms", "over", "dose", "hours", "highest", "gas", "soak error")


@heats.command("list")
def list_heats(
    furnace: FurnaceOption = "",
    crucible: MarkOption = "",
    schedule: ScheduleOption = "",
    metal: MetalOption = "",
    alarm: AlarmOption = "",
    since: SinceOption = "",
    until: UntilOption = "",
    rehearsals: RehearsalsOption = False,
    false_starts: AllOption = False,
    most: Annotated[int, typer.Option(help="So many, the newest.", min=1, max=1_000_000)] = 50,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    html: HtmlOption = None,
    archive: ArchiveOption = None,
    config: ConfigOption = None,
) -> None:
    """List heats, newest first."""
    chosen = Chosen(furnace, crucible, schedule, metal, alarm, since, until, rehearsals, false_starts)
    with closing(open_archive(_settings(config, archive), os.environ)) as kept:
        rows = listed(kept.database, chosen, most)
        _say_damage(kept)
    if as_json:
        _print_json(heats=[msgspec.to_builtins(row) for row in rows])
    else:
        _give(rows, HeatRow, _LIST, [_cells(row) for row in rows], "Heats", as_csv=as_csv, html=html)


@heats.command("trend")
def show_trend(
    by: Annotated[Grouping, typer.Option(help="Over what.")] = Grouping.MONTH,
    furnace: FurnaceOption = "",
    crucible: MarkOption = "",
    schedule: ScheduleOption = "",
    metal: MetalOption = "",
    alarm: AlarmOption = "",
    since: SinceOption = "",
    until: UntilOption = "",
    rehearsals: RehearsalsOption = False,
    false_starts: AllOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    html: HtmlOption = None,
    archive: ArchiveOption = None,
    config: ConfigOption = None,
) -> None:
    """Show what heats come to by pot, furnace, schedule or month: alarms, minutes over, dose, gas, soak error."""
    chosen = Chosen(furnace, crucible, schedule, metal, alarm, since, until, rehearsals, false_starts)
    with closing(open_archive(_settings(config, archive), os.environ)) as kept:
        rows = trend(kept.database, chosen, by)
        _say_damage(kept)
    if as_json:
        _print_json(by=str(by), trend=[msgspec.to_builtins(row) for row in rows])
    else:
        cells = [_trend_cells(row) for row in rows]
        _give(rows, TrendRow, (str(by), *_TREND), cells, f"Heats by {by}", as_csv=as_csv, html=html)


@heats.command()
def show(
    heat: HeatArgument,
    as_json: JsonOption = False,
    archive: ArchiveOption = None,
    config: ConfigOption = None,
) -> None:
    """Show one heat: its figures, and what the watch said."""
    with closing(open_archive(_settings(config, archive), os.environ)) as kept:
        row, story = _row(kept, heat), kept.story(heat)
    if as_json:
        _print_json(heat=msgspec.to_builtins(row), story=msgspec.to_builtins(story))
        return
    print_table(_LIST, [_cells(row)])
    for event in story.events:
        print(printable(f"{format_duration(event.time_s):>10}  {event.text or event.event}"))


@heats.command()
def compare(
    chosen: Annotated[list[str], typer.Argument(help="Ids of two to eight heats.", show_default=False)],
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    html: HtmlOption = None,
    archive: ArchiveOption = None,
    config: ConfigOption = None,
) -> None:
    """Set heats side by side; with --html their courses are laid over one another."""
    if not 2 <= len(chosen) <= _MOST_OVERLAID:
        raise typer.BadParameter(f"two to {_MOST_OVERLAID} heats are compared; {len(chosen)} were named")
    with closing(open_archive(_settings(config, archive), os.environ)) as kept:
        found = [(_row(kept, heat), kept.story(heat)) for heat in chosen]
    rows = [row for row, _ in found]
    if as_json:
        _print_json(heats=[{**msgspec.to_builtins(row), "course": story.course} for row, story in found])
    else:
        picture = "" if html is None else overlay(found)
        cells = [_cells(row) for row in rows]
        _give(rows, HeatRow, _LIST, cells, "Heats side by side", picture, as_csv=as_csv, html=html)


@heats.command()
def fetch(
    heat: HeatArgument,
    to: Annotated[Path, typer.Option(help="The file; nothing is written over.", show_default=False)],
    archive: ArchiveOption = None,
    config: ConfigOption = None,
) -> None:
    """Fetch a heat's record from the archive, its hash checked, for replay and report."""
    with closing(open_archive(_settings(config, archive), os.environ)) as kept:
        content = kept.record(heat)
    try:
        with to.open("xb") as file:
            file.write(content)
    except FileExistsError:
        raise ArchiveError(f"{to}: is there already; give another name") from None
    print(printable(f"{to}: {len(content)} bytes, as they were handed in"))


@heats.command("archive")
def archive_records(
    records: Annotated[
        list[Path] | None, typer.Argument(help="Records; none: all of the folder that wait.", show_default=False)
    ] = None,
    rehearsals: RehearsalsOption = False,
    as_json: JsonOption = False,
    archive: ArchiveOption = None,
    config: ConfigOption = None,
) -> int:
    """Hand heats in to the archive; one that is there already is said and not kept twice."""
    # Gathering a heat is a replay; whoever only looks back does without the monitor.
    from rampwarden.archive import gathered  # noqa: PLC0415
    from rampwarden.assembly.archive import hand_in_what_waits  # noqa: PLC0415

    settings = _settings(config, archive)
    done: list[tuple[Path, str, bool]] = []
    if not records:
        done = list(hand_in_what_waits(settings, with_rehearsals=rehearsals))
    else:
        with closing(open_archive(settings, os.environ, create=True)) as kept:
            for record in records:
                try:
                    done.append((record, str(kept.put(gathered(record))), True))
                except RampwardenError as error:
                    if len(records) == 1:
                        raise
                    # One that cannot be kept is no reason to leave the others.
                    done.append((record, str(error), False))
    if as_json:
        _print_json(archived=[{"record": str(path), "outcome": what, "is_well": well} for path, what, well in done])
    else:
        for path, what, well in done:
            typer.echo(printable(f"{path}: {what}" if well else f"rampwarden: {what}"), err=not well)
        if not done:
            print("no heat waits to be archived")
    return FINE if all(well for *_, well in done) else FOUND_SOMETHING


def _settings(config: Path | None, archive: str | None) -> Settings:
    return load_settings(config, {"archive.place": archive}, os.environ).settings


def _row(kept: Archive, heat: str) -> HeatRow:
    row = row_of(kept.database, heat)
    if row is None:
        raise ArchiveError(f"{kept.name}: there is no heat {heat}; see: rampwarden heats list")
    return row


def _cells(row: HeatRow) -> tuple[str, ...]:
    return (
        row.id,
        row.started[:16].replace("T", " "),
        row.furnace,
        row.mark or "–",
        row.schedule,
        format_duration(row.seconds),
        f"{row.peak_c:.0f} °C",
        format_duration(row.soaked_s),
        f"{row.over_min:.1f} min",
        f"{row.dose_min:.0f} min",
        row.alarm_names.replace(" ", ", ") or "none",
    )


def _trend_cells(row: TrendRow) -> tuple[str, ...]:
    return (
        row.name or "–",
        str(row.heats),
        str(row.alarms),
        f"{row.over_min:.1f} min",
        f"{row.dose_min:.0f} min",
        f"{row.hours:.1f} h",
        f"{row.highest_c:.0f} °C",
        "–" if row.gas_kg is None else f"{row.gas_kg:.1f} kg",
        "–" if row.soak_error_c is None else f"{row.soak_error_c:+.1f} °C",
    )


def _give(
    rows: Sequence[Struct],
    kind: type[Struct],
    headings: Sequence[str],
    cells: Sequence[Sequence[str]],
    title: str,
    picture: str = "",
    *,
    as_csv: bool,
    html: Path | None,
) -> None:
    """Give rows as CSV, whole and as they are kept, or their cells as a page or on the terminal."""
    if as_csv:
        print_csv(kind.__struct_fields__, [msgspec.structs.astuple(row) for row in rows])
    elif html is not None:
        _write(html, heats_page(title, picture, headings, cells))
    elif rows:
        print_table(headings, cells)
    else:
        print("no heat of that kind is kept")


def _say_damage(kept: Archive) -> None:
    for sentence in kept.damaged:
        typer.echo(printable(f"rampwarden: {sentence}"), err=True)


def _write(path: Path, page: str) -> None:
    path.write_text(page, encoding="utf-8")
    print(printable(f"{path}: written"))


def _print_json(**fields: object) -> None:
    print(visible_json(json.dumps({"format": FORMAT, **fields}, ensure_ascii=False)))
