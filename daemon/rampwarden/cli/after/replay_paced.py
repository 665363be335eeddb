"""`rampwarden replay --speed`: a record at a human pace, on the displays.

Nothing is recorded, nobody is called: a replay must not be taken for a heat, by anybody anywhere.
"""

import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rampwarden.assembly.display import display_terminal, replay_keys, showing
from rampwarden.assembly.page import page_server
from rampwarden.assembly.stop_signals import stop_on_signals
from rampwarden.cli.after.chosen_schedule import schedule_for_csv, schedule_for_record
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import parameters_for_interval
from rampwarden.core.schedule import Schedule
from rampwarden.foreign_logs import LogLook
from rampwarden.log_lines import LogLines
from rampwarden.log_setup import RecentLines, configure_logging
from rampwarden.outputs.bell import Bell
from rampwarden.outputs.in_fahrenheit import in_fahrenheit
from rampwarden.picture import Mode, PictureKeeper, about_heat
from rampwarden.plain_logs import structlog
from rampwarden.playback import Playback
from rampwarden.records import (
    Columns,
    ImportTally,
    Line,
    RecordReader,
    header_remarks,
    parameters_of,
    read_csv,
    usual_interval_s,
)
from rampwarden.service import Output
from rampwarden.settings import load_settings
from rampwarden.terminal_text import printable


@dataclass(frozen=True, slots=True)
class Manner:
    """How a record is to be played: so many times its own pace, with a bell or without, as lines or on the display."""

    speed: float
    bell: bool
    plain: bool
    config: Path | None


@dataclass(frozen=True, slots=True)
class PastHeat:
    """A heat that was: its lines as often as they are wanted, and what judges them."""

    path: Path
    schedule: Schedule
    started: str
    crucible: str
    metal: str
    lines: Callable[[], Iterator[Line]]
    new_monitor: Callable[[], Monitor]


def recorded_heat(record: Path, schedule_file: Path | None) -> PastHeat:
    """Give the heat of a record; raises `RecordError` when it is none."""
    with RecordReader(record) as reader:
        header = reader.header
    schedule = schedule_for_record(record, header, schedule_file)
    parameters = parameters_of(header, str(record))
    for remark in header_remarks(header):
        print(f"rampwarden: {printable(f'{record}: {remark}')}", file=sys.stderr)
    return PastHeat(
        record,
        schedule,
        header.started,
        header.crucible,
        header.metal,
        lines=lambda: iter(RecordReader(record)),
        new_monitor=lambda: Monitor(schedule, parameters),
    )


def csv_heat(file: Path, schedule_file: Path | None, named: Columns) -> PastHeat:
    """Give the heat of another instrument's log. When it was is not in it: the file's own date has to do."""
    schedule = schedule_for_csv(schedule_file)
    parameters = parameters_for_interval(usual_interval_s(file, named), tuple(named.probes))
    started = datetime.fromtimestamp(file.stat().st_mtime, UTC)
    return PastHeat(
        file,
        schedule,
        started.isoformat(timespec="seconds"),
        crucible="",
        metal="",
        lines=lambda: iter(read_csv(file, named, ImportTally())),
        new_monitor=lambda: Monitor(schedule, parameters),
    )


def log_heat(file: Path, schedule_file: Path | None, looked: LogLook) -> PastHeat:
    """Give the heat of a log that was looked at; when it was is told by the log, else by the file's own date."""
    schedule = schedule_for_csv(schedule_file)
    parameters = parameters_for_interval(looked.interval_s)
    started_s = file.stat().st_mtime if looked.started_s is None else looked.started_s
    return PastHeat(
        file,
        schedule,
        datetime.fromtimestamp(started_s, UTC).isoformat(timespec="seconds"),
        crucible="",
        metal="",
        lines=lambda: iter(looked.readings),
        new_monitor=lambda: Monitor(schedule, parameters),
    )


def play(heat: PastHeat, manner: Manner) -> int:
    """Play a heat until its end, or until somebody ends it; exit status 1 when alarms were raised."""
    settings = load_settings(manner.config, {}, os.environ).settings
    about = about_heat(heat.schedule, Mode.REPLAY, heat.started, str(heat.path), heat.crucible, heat.metal)
    keeper = PictureKeeper(heat.schedule, about, pace=manner.speed)
    with contextlib.ExitStack() as ending:
        lines = ending.enter_context(closing(LogLines(sys.stdout.fileno(), sys.stdout.encoding)))
        recent = RecentLines()
        fahrenheit = settings.watch.degrees == "F"
        configure_logging("text", lines, recent, in_fahrenheit if fahrenheit else str)
        log = structlog.get_logger()
        stop = stop_on_signals()
        outputs: list[Output] = []
        if manner.bell and sys.stdout.isatty():
            bell = ending.enter_context(closing(Bell(sys.stdout.fileno())))
            bell.start()
            outputs.append(bell)
        page = page_server(settings.page, os.environ)
        if page is not None:
            ending.enter_context(closing(page))
            outputs.append(page)
        terminal = display_terminal(os.environ, plain=manner.plain)
        stays = terminal is not None or page is not None
        playback = Playback(heat.lines, heat.new_monitor, keeper, outputs, manner.speed, stays=stays)
        log.info(f"replay of {heat.path}: {heat.schedule.title}")
        if page is not None:
            # What is past can be looked at, and not be acknowledged or noted any more.
            page.start(keeper.picture, lambda _word: log.info("a replay takes no commands"))
            log.info(f"the page is served at {page.url}")
        if terminal is not None:
            keys = replay_keys(playback.order, stop.set, fahrenheit=fahrenheit)
            ending.enter_context(showing(terminal, keeper, keys, recent))
        playback.run(stop)
    return FOUND_SOMETHING if playback.alarms_raised else FINE
