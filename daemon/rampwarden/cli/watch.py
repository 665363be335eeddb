"""`rampwarden watch`: the service itself."""

import os
import sys
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, ExitStack, closing, nullcontext
from datetime import date
from pathlib import Path
from typing import Annotated

import structlog
import typer

from rampwarden.assembly import board_calibration, board_settings
from rampwarden.cli.display_options import PlainOption
from rampwarden.cli.exit_status import FINE
from rampwarden.cli.show_settings import ConfigOption
from rampwarden.cli.stop_signals import stop_on_signals
from rampwarden.cli.upkeep import Live, Upkeep
from rampwarden.clock import Clock, HostClock
from rampwarden.control_places import make_folder
from rampwarden.core.model import Priority
from rampwarden.crucible_assembly import enter_heat, start_warnings
from rampwarden.display_assembly import display_terminal, showing, watch_keys
from rampwarden.errors import ControlError, RampwardenError, SettingsError
from rampwarden.heat_start import Heat, fresh_heat, unfinished_heat
from rampwarden.log_lines import LogLines
from rampwarden.log_setup import RecentLines, configure_logging
from rampwarden.mqtt_assembly import broker_access, mqtt_output
from rampwarden.outputs.bell import Bell
from rampwarden.outputs.buzzer import Buzzer
from rampwarden.records.locks import PortLock
from rampwarden.schedule_files import find_schedule
from rampwarden.service import Source, Watch
from rampwarden.settings import Settings, load_settings
from rampwarden.sources.board import Board
from rampwarden.sources.keyboard import HELP, listen_to_keyboard

CAUTION = (
    "rampwarden watches and warns. It controls no gas and can shut nothing off: stay within reach of the valve. "
    "The crucible maker's sheet and your local rules outrank every number here."
)

ScheduleArgument = Annotated[Path | None, typer.Argument(help="Schedule file or name.", show_default=False)]
CrucibleOption = Annotated[
    str | None, typer.Option("--crucible", help="The crucible's mark: its heat is entered for it.", show_default=False)
]
MetalOption = Annotated[str | None, typer.Option("--metal", help="What is to be melted.", show_default=False)]
NoteOption = Annotated[str | None, typer.Option("--note", help="A line for the record's header.", show_default=False)]
RecordOption = Annotated[
    Path | None, typer.Option("--record", help="Heat record to write; default: named by date.", show_default=False)
]


def watch(
    schedule: ScheduleArgument = None,
    port: Annotated[str | None, typer.Option(help="Serial port (a /dev/serial/by-id path) or pyserial URL.")] = None,
    config: ConfigOption = None,
    record: RecordOption = None,
    crucible: CrucibleOption = None,
    metal: MetalOption = None,
    note: NoteOption = None,
    new: Annotated[bool, typer.Option("--new", help="Start afresh, even if a heat was broken off.")] = False,
    plain: PlainOption = False,
) -> int:
    """Watch a heat: read the board, check the schedule, ring and record until stopped."""
    flags = {
        "board.port": port,
        "watch.schedule": schedule,
        "watch.crucible": crucible,
        "watch.metal": metal,
        "watch.note": note,
    }

    def read_settings() -> Settings:
        return load_settings(config, flags, os.environ).settings

    settings = read_settings()
    if settings.watch.schedule is None:
        raise SettingsError("watch.schedule: no schedule to watch; name one, as in: rampwarden watch SCHEDULE")
    if not settings.board.port:
        raise SettingsError("board.port: no port to read; give --port, or port in the [board] section")
    file = find_schedule(settings.watch.schedule)
    board_as_set = board_settings(settings)
    with _port_lock(settings.board.port):
        heat = None if new or record is not None else unfinished_heat(settings, file)
        if heat is None:
            calibration = board_calibration(settings, os.environ)
            heat = fresh_heat(settings, file, record, lasting=True, calibration=calibration)
        clock = HostClock(heat.already_s)
        board = Board(board_as_set, clock)
        run_watch(settings, heat, board, clock, never_finished, Live(board, read_settings), plain=plain)
    return FINE


def _port_lock(port: str) -> AbstractContextManager[object]:
    """Hold the port against a second watch; where no folder for locks is to be had, the port's own must do."""
    try:
        folder = make_folder(os.environ)
    except ControlError:
        return nullcontext()
    return closing(PortLock(folder, port))


def never_finished() -> bool:
    """Tell that a real board is never done by itself."""
    return False


def run_watch(
    settings: Settings,
    heat: Heat,
    source: Source,
    clock: Clock,
    finished: Callable[[], bool],
    live: Live | None = None,
    *,
    plain: bool = False,
) -> Watch:
    """Assemble one watch around a source and run it until SIGINT, SIGTERM, or the source is finished."""
    with closing(LogLines(sys.stdout.fileno(), sys.stdout.encoding)) as lines:
        recent = RecentLines()
        configure_logging(settings.log.format, lines, recent)
        log = structlog.get_logger()
        path = heat.writer.path
        with ExitStack() as ending:
            try:
                descriptor = bell_descriptor(settings)
                access = broker_access(settings.mqtt, settings.mqtt.device, os.environ)
                upkeep = ending.enter_context(closing(Upkeep(settings, heat.schedule.title, path, live, os.environ)))
            except RampwardenError:
                heat.give_up()
                raise
            stop = stop_on_signals()
            log.info(CAUTION)
            log.info(f"{heat.schedule.title} [{heat.schedule.basis}] · record {path}")
            if heat.monitor.calibration.is_made:
                log.info(f"calibration of the board: {heat.monitor.calibration.words()}")
            for sentence in start_warnings(settings, heat.header.crucible, heat.schedule, date.today()):
                log.warning(sentence)
            bell = None if descriptor is None else ending.enter_context(closing(Bell(descriptor)))
            buzzer = Buzzer(live.board.outgoing, stop.is_set) if live is not None and settings.board.buzzer else None
            # Every display draws from it: a further one takes `keeper`, and tells the watch by `running.hear`.
            keeper = ending.enter_context(closing(heat.keeper))
            keeper.set_pace(clock.speed, paused=False)
            on_reach: list[Callable[[bool], None]] = [keeper.note_reach]
            if bell is not None and settings.bell.when == "unreached":
                on_reach.append(bell.rest)
            mqtt = (
                None if access is None else mqtt_output(settings.mqtt, access, heat.header, path, _tell_all(on_reach))
            )
            outputs = [output for output in (bell, buzzer, mqtt, keeper, *upkeep.outputs) if output is not None]
            running = Watch(source, clock, heat.monitor, heat.writer, outputs, settings.watch.status_every, keeper)
            upkeep.start(running, keeper.picture)
            if bell is not None:
                bell.start(running.hear)
            if mqtt is not None:
                ending.enter_context(mqtt).start(running.hear)
            terminal = display_terminal(os.environ, plain=plain)
            if terminal is not None:
                keys = watch_keys(keeper, running.hear, stop.set)
                ending.enter_context(showing(terminal, keeper, keys, recent, running.hear))
            else:
                _take_typed_lines(running)
            if heat.taken_up:
                # Only bell and buzzer sound again: to a broker these went, or still go, by the record.
                for event in heat.unacknowledged:
                    for output in (bell, buzzer):
                        if output is not None:
                            output.tell(event)
                running.take_up(heat.taken_up, heat.untold)
            running.run(stop, finished)
        _say_what_is_left(settings, heat)
        return running


def _take_typed_lines(running: Watch) -> None:
    """Let somebody at the terminal type words to the watch."""
    if sys.stdin.isatty():
        log = structlog.get_logger()
        log.info(HELP)
        listen_to_keyboard(running.hear, lambda: log.info(f"not understood · {HELP}"))


def _say_what_is_left(settings: Settings, heat: Heat) -> None:
    """Say where the record is, and enter it for its crucible."""
    log, writer = structlog.get_logger(), heat.writer
    if writer.lost_lines:
        log.warning(f"{writer.trouble}; {writer.lost_lines} lines of the record are lost", priority=Priority.HIGH)
    log.info(f"record closed: {writer.path} · look at it again with: rampwarden replay {writer.path}")
    if heat.header.crucible:
        sentence, is_well = enter_heat(settings, heat.header.crucible, writer.path)
        (log.info if is_well else log.warning)(sentence)


def _tell_all(hearers: Sequence[Callable[[bool], None]]) -> Callable[[bool], None]:
    """Give what passes on to all of them whether anybody is reached."""

    def tell(reached: bool) -> None:
        for hear in hearers:
            hear(reached)

    return tell


def bell_descriptor(settings: Settings) -> int | None:
    """Give where the bell rings: the set device, else the terminal the watch runs in, else nowhere."""
    if not settings.bell.enabled:
        return None
    if settings.bell.device:
        place = f"bell.device = {settings.bell.device!r}: cannot ring there"
        try:
            # Not to wait for whoever is at the other end of a pipe or a line without carrier.
            descriptor = os.open(settings.bell.device, os.O_WRONLY | os.O_NOCTTY | os.O_NONBLOCK | os.O_CLOEXEC)
        except OSError as error:
            raise SettingsError(f"{place}: {error.strerror}") from error
        if not os.isatty(descriptor):
            os.close(descriptor)
            raise SettingsError(f"{place}: it is no terminal; give one such as /dev/tty1")
        return descriptor
    return sys.stdout.fileno() if sys.stdout.isatty() else None
