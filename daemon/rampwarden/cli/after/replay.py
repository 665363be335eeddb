"""`rampwarden replay`: records through the monitor again, as fast as the machine can, or at a human pace."""

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, NamedTuple

import typer

from rampwarden.cli.after.chosen_schedule import schedule_for_csv, schedule_for_record
from rampwarden.cli.after.foreign_log import (
    DecimalName,
    LogOptions,
    ScaleName,
    TimeUnitName,
    command,
    is_foreign,
    look_at_file,
    print_look,
    print_remarks,
)
from rampwarden.cli.after.uncertainty_view import print_uncertainty
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.during.display_options import PlainOption
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.cli.saying import say
from rampwarden.core.instrument import NOT_IN_IT
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import parameters_for_interval
from rampwarden.core.quantities import format_duration
from rampwarden.errors import RecordError
from rampwarden.foreign_logs import DateOrder, LogLook
from rampwarden.outputs.status_line import event_sentence
from rampwarden.records import (
    Columns,
    ImportTally,
    Line,
    RecordReader,
    Replay,
    ReplaySummary,
    encode_line,
    header_remarks,
    parameters_of,
    parse_columns,
    read_csv,
    usual_interval_s,
)
from rampwarden.terminal_text import elapsed, printable, visible_json


def replay(
    records: Annotated[
        list[Path] | None,
        typer.Argument(
            help="Heat records (.jsonl, .jsonl.gz), or logs of other instruments (CSV, text).", show_default=False
        ),
    ] = None,
    schedule: Annotated[Path | None, typer.Option("--schedule", help="Watch under this schedule instead.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Only the events, one JSON object a line.")] = False,
    columns: Annotated[
        str | None,
        typer.Option("--csv", help="Columns of a CSV file: time=ts,temp_c=value[,junction_c=…][,chamber:temp_c=…]."),
    ] = None,
    probe: Annotated[
        str | None, typer.Option(help="Of a log: which column is the temperature.", show_default=False)
    ] = None,
    dates: Annotated[
        DateOrder | None, typer.Option(help="Of a log: how its dates are written.", show_default=False)
    ] = None,
    decimal: Annotated[DecimalName | None, typer.Option(help="Of a log: its decimal sign.", show_default=False)] = None,
    unit: Annotated[
        ScaleName | None, typer.Option(help="Of a log: its scale of temperature.", show_default=False)
    ] = None,
    time_unit: Annotated[
        TimeUnitName | None, typer.Option(help="Of a log: what its time counts in.", show_default=False)
    ] = None,
    junction: Annotated[
        float | None,
        typer.Option(help="With --csv and an EMF: its reference junction, °C, for every row.", show_default=False),
    ] = None,
    uncertainty: Annotated[
        bool,
        typer.Option("--uncertainty", help="Show by how much temperature and ramp may be off at each segment's end."),
    ] = False,
    speed: Annotated[
        float | None,
        typer.Option(
            min=0.1,
            max=10_000.0,
            help="Play one record at this many times its pace, on the display.",
            show_default=False,
        ),
    ] = None,
    bell: Annotated[bool, typer.Option("--bell", help="With --speed: ring as the watch did.")] = False,
    plain: PlainOption = False,
    every: Annotated[
        str | None,
        typer.Option(
            "--all",
            help="Every heat of this folder or archive by other limits: what is new, gone, earlier, later.",
            show_default=False,
        ),
    ] = None,
    settings: Annotated[
        Path | None, typer.Option(help="With --all: by the alarms and times of these settings.", show_default=False)
    ] = None,
    jobs: Annotated[int, typer.Option(min=0, max=1024, help="With --all: so many at a time; 0: all cores.")] = 0,
    dask: Annotated[
        str | None, typer.Option(help="With --all: on this Dask cluster, as tcp://server:8786.", show_default=False)
    ] = None,
    config: ConfigOption = None,
) -> int:
    """Replay records and show what the watch says about them. Exit status 1 when alarms were raised."""
    if every is not None:
        from rampwarden.cli.after.replay_all import replay_all  # noqa: PLC0415  (archive and pools, for nothing else)

        options = LogOptions(probe, dates, decimal, unit, time_unit)
        lone = not (records or columns or uncertainty or options.given) and speed is junction is None
        return replay_all(every, schedule, settings, jobs=jobs, dask=dask, as_json=as_json, is_alone=lone)
    if not records or settings is not None or dask is not None:
        raise typer.BadParameter(
            "--settings and --dask go with --all" if records else "no record; name one, or a folder of them with --all"
        )
    if junction is not None and not columns:
        raise typer.BadParameter("--junction goes with --csv: a record brings its own junction")
    named = parse_columns(columns, junction) if columns else None
    options = LogOptions(probe, dates, decimal, unit, time_unit)
    if options.given and (named or not all(map(is_foreign, records))):
        raise typer.BadParameter("--probe, --dates, --decimal, --unit and --time-unit go with another instrument's log")
    if speed is not None:
        if len(records) != 1:
            raise typer.BadParameter("--speed plays one record at a time")
        if as_json or uncertainty:
            raise typer.BadParameter("--speed shows a heat as it happened; --json and --uncertainty do not go with it")
        return _play(records[0], schedule, named, options, Pace(speed, bell, plain, config))
    status = FINE
    for record in records:
        run, alarms = _replay_one(record, schedule, named, options, as_json)
        if uncertainty and not as_json and run is not None:
            print_uncertainty(run.segment_ends)
        if alarms:
            status = FOUND_SOMETHING
    return status


class Pace(NamedTuple):
    """How a replay at a human pace was asked for."""

    speed: float
    bell: bool
    plain: bool
    config: Path | None


def _play(record: Path, schedule: Path | None, named: Columns | None, options: LogOptions, pace: Pace) -> int:
    # Displays, bell and page: a replay without them starts sooner.
    from rampwarden.cli.after.replay_paced import Manner, csv_heat, log_heat, play, recorded_heat  # noqa: PLC0415

    if named is not None:
        heat = csv_heat(record, schedule, named)
    elif is_foreign(record):
        heat = log_heat(record, schedule, look_at_file(record, options, schedule))
    else:
        heat = recorded_heat(record, schedule)
    return play(heat, Manner(pace.speed, bell=pace.bell, plain=pace.plain, config=pace.config))


def _replay_one(
    record: Path, schedule: Path | None, named: Columns | None, options: LogOptions, as_json: bool
) -> tuple[Replay | None, int]:
    """Replay one file, of whatever kind it is; gives the replay, None where nothing was replayed, and its alarms."""
    if named is not None:
        return _replay_csv(record, schedule, named, as_json)
    if not is_foreign(record):
        return _replay(record, schedule, as_json)
    looked = look_at_file(record, options, schedule)
    if schedule is None:
        _ask_for_schedule(record, looked, options)
        return None, 0
    return _replay_log(record, schedule, looked, as_json)


def _replay(record: Path, schedule_file: Path | None, as_json: bool) -> tuple[Replay, int]:
    with RecordReader(record) as reader:
        schedule = schedule_for_record(record, reader.header, schedule_file)
        run = Replay(Monitor(schedule, parameters_of(reader.header, str(record))))
        alarms = _show(run, reader, as_json=as_json, heading=f"{record}: {schedule.title}")
    for remark in header_remarks(reader.header):
        _remark(f"{record}: {remark}")
    if reader.tally.torn:
        _remark(f"{record}: the last line is torn and was dropped; the watch did not close this record")
    if reader.tally.foreign_lines:
        _remark(f"{record}: lines that are no record lines were skipped: {reader.tally.foreign_lines}")
    return run, alarms


def _ask_for_schedule(file: Path, looked: LogLook, options: LogOptions) -> None:
    """Say what a log was taken for; under which schedule it is to be judged, only a person knows."""
    print_look(file, looked)
    print_remarks(file, looked)
    print(printable(f"which schedule was it to keep? {command(file, options, Path('bronze-first-heat'))}"))
    print("  (any name from: rampwarden schedule list, or a file of your own)")


def _replay_log(file: Path, schedule_file: Path, looked: LogLook, as_json: bool) -> tuple[Replay, int]:
    schedule = schedule_for_csv(schedule_file)
    if not as_json:
        print_look(file, looked)
    run = Replay(Monitor(schedule, parameters_for_interval(looked.interval_s)))
    alarms = _show(run, looked.readings, as_json=as_json, heading=f"{file}: {schedule.title}")
    print_remarks(file, looked)
    return run, alarms


def _replay_csv(file: Path, schedule_file: Path | None, named: Columns, as_json: bool) -> tuple[Replay, int]:
    schedule = schedule_for_csv(schedule_file)
    tally = ImportTally()
    run = Replay(Monitor(schedule, parameters_for_interval(usual_interval_s(file, named), tuple(named.probes))))
    readings = read_csv(file, named, tally)
    alarms = _show(run, readings, as_json=as_json, heading=f"{file}: {schedule.title}")
    if tally.rows == tally.bad_rows:
        told = f": {tally.first_bad[0]}" if tally.first_bad else ""
        raise RecordError(
            f"{file}: none of its {tally.rows} rows can be used{told}; without --csv it is looked at anew"
        )
    if tally.bad_rows:
        _remark(f"{file}: {tally.bad_rows} of {tally.rows} rows cannot be used: {'; '.join(tally.first_bad)}")
    for start_s, length_s in tally.gaps:
        _remark(f"{file}: gap of {format_duration(length_s)} after {elapsed(start_s)}")
    return run, alarms


def _show(run: Replay, lines: Iterable[Line], *, as_json: bool, heading: str) -> int:
    """Print every event; gives how many alarms were raised."""
    alarms = 0
    if not as_json:
        say(heading)
    for event in run.events(lines):
        alarms += event.raises_alarm
        if as_json:
            sys.stdout.write(visible_json(encode_line(event).decode()))
        else:
            say(f"{elapsed(event.time_s):>8}  {event_sentence(event)}", hanging=10)
    if not as_json:
        say(_conclusion(run.summary, alarms))
    return alarms


def _conclusion(summary: ReplaySummary, alarms: int) -> str:
    parts = [f"{summary.readings} readings over {format_duration(summary.last_s - summary.first_s)}"]
    if summary.highest_c is not None:
        off_c = summary.highest_uncertainty_c or 0.0
        parts.append(f"highest {summary.highest_c:.0f} °C ± {off_c:.1f} (k = 2; {NOT_IN_IT})")
    if summary.converted_by_board:
        parts.append(f"{summary.converted_by_board} temperatures converted by the board, not by us")
    parts.append("no alarms" if not alarms else f"{alarms} alarm{'s' if alarms > 1 else ''}")
    if not summary.closed:
        parts.append("record not closed")
    return " · ".join(parts)


def _remark(text: str) -> None:
    print(f"rampwarden: {printable(text)}", file=sys.stderr)
