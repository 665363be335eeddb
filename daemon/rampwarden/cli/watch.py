"""`rampwarden watch`: the service itself."""

import os
import signal
import sys
import threading
from collections.abc import Callable
from contextlib import closing, nullcontext
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import structlog
import typer

from rampwarden.assembly import board_settings, monitor_parameters, record_header, record_path
from rampwarden.cli.exit_status import FINE
from rampwarden.cli.show_settings import ConfigOption
from rampwarden.clock import Clock, HostClock
from rampwarden.core.monitor import Monitor
from rampwarden.errors import SettingsError
from rampwarden.log_setup import configure_logging
from rampwarden.outputs.bell import Bell
from rampwarden.records.heat_record import RecordWriter
from rampwarden.schedule_files import find_schedule, read_schedule
from rampwarden.service import Source, Watch
from rampwarden.settings import Settings, load_settings
from rampwarden.sources.board import Board
from rampwarden.sources.keyboard import HELP, listen_to_keyboard

CAUTION = (
    "rampwarden watches and warns. It controls no gas and can shut nothing off: stay within reach of the valve. "
    "The crucible maker's sheet and your local rules outrank every number here."
)

ScheduleArgument = Annotated[Path | None, typer.Argument(help="Schedule file or name.", show_default=False)]
NoteOption = Annotated[str | None, typer.Option("--note", help="A line for the record's header.", show_default=False)]
RecordOption = Annotated[
    Path | None, typer.Option("--record", help="Heat record to write; default: named by date.", show_default=False)
]


def watch(
    schedule: ScheduleArgument = None,
    port: Annotated[str | None, typer.Option(help="Serial port (a /dev/serial/by-id path) or pyserial URL.")] = None,
    config: ConfigOption = None,
    record: RecordOption = None,
    crucible: Annotated[str | None, typer.Option(help="The crucible's mark, for the record.")] = None,
    note: NoteOption = None,
) -> int:
    """Watch a heat: read the board, check the schedule, ring and record until stopped."""
    flags = {"board.port": port, "watch.schedule": schedule, "watch.crucible": crucible, "watch.note": note}
    settings = load_settings(config, flags, os.environ).settings
    if settings.watch.schedule is None:
        raise SettingsError("watch.schedule: no schedule to watch; name one, as in: rampwarden watch SCHEDULE")
    if not settings.board.port:
        raise SettingsError("board.port: no port to read; give --port, or port in the [board] section")
    clock = HostClock()
    board = Board(board_settings(settings), clock)
    run_watch(settings, settings.watch.schedule, board, clock, record, never_finished)
    return FINE


def never_finished() -> bool:
    """Tell that a real board is never done by itself."""
    return False


def run_watch(
    settings: Settings,
    schedule_name: Path,
    source: Source,
    clock: Clock,
    record: Path | None,
    finished: Callable[[], bool],
) -> Watch:
    """Assemble one watch around a source and run it until SIGINT, SIGTERM, or the source is finished."""
    configure_logging(settings.log.format)
    log = structlog.get_logger()
    file = find_schedule(schedule_name)
    schedule, table = read_schedule(file)
    parameters = monitor_parameters(settings)
    started = datetime.now(UTC)
    path = record or record_path(settings.watch.records, started, file)
    writer = RecordWriter(path, record_header(settings, parameters, schedule, table, started))
    stop = _stop_on_signals()
    log.info(CAUTION)
    log.info(f"{schedule.title} [{schedule.basis}] · record {path}")
    descriptor = _bell_descriptor(settings)
    with nullcontext() if descriptor is None else closing(Bell(descriptor)) as bell:
        running = Watch(
            source, clock, Monitor(schedule, parameters), writer, [bell] if bell else [], settings.watch.status_every
        )
        if sys.stdin.isatty():
            log.info(HELP)
            listen_to_keyboard(running.hear, lambda: log.info(f"not understood · {HELP}"))
        running.run(stop, finished)
    log.info(f"record closed: {path} · look at it again with: rampwarden replay {path}")
    return running


def _stop_on_signals() -> threading.Event:
    stop = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stop.set())
    return stop


def _bell_descriptor(settings: Settings) -> int | None:
    """Give where the bell rings: the set device, else the terminal the watch runs in, else nowhere."""
    if not settings.bell.enabled:
        return None
    if settings.bell.device:
        try:
            return os.open(settings.bell.device, os.O_WRONLY | os.O_NOCTTY | os.O_CLOEXEC)
        except OSError as error:
            raise SettingsError(
                f"bell.device = {settings.bell.device!r}: cannot ring there: {error.strerror}"
            ) from error
    return sys.stdout.fileno() if sys.stdout.isatty() else None
