"""`rampwarden watch`: the service itself."""

import dataclasses
import os
from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack, closing, nullcontext
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.assembly.early_listening import EarlyListening
from rampwarden.assembly.heat import calibration_or_none
from rampwarden.assembly.heat_start import WatchedHeat, find_heat, fresh_heat, unfinished_heat
from rampwarden.assembly.probes import check_probes
from rampwarden.assembly.recorded_settings import first_line, settings_of_unfinished
from rampwarden.assembly.running import run_watch
from rampwarden.assembly.watch_services import Live
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.during.display_options import PlainOption
from rampwarden.cli.during.heat_options import CrucibleOption, MetalOption, NoteOption, RecordOption, ScheduleArgument
from rampwarden.cli.exit_status import FINE
from rampwarden.control import make_folder
from rampwarden.errors import ControlError, ScheduleError, SettingsError
from rampwarden.records import PortLock, Search
from rampwarden.schedule_files import find_schedule
from rampwarden.settings import Settings, load_settings

_NO_SCHEDULE = "watch.schedule: no schedule to watch; name one, as in: rampwarden watch SCHEDULE"


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
        settings = load_settings(config, flags, os.environ).settings
        if not settings.board.port:
            if settings.watch.schedule is None:
                raise SettingsError(_NO_SCHEDULE)
            raise SettingsError("board.port: no port to read; give --port, or port in the [board] section")
        check_probes(settings)
        return settings

    refused: SettingsError | None = None
    search: Search | None = None
    try:
        settings = read_settings()
    except SettingsError as error:
        refused = error
        found = None if new or record is not None else settings_of_unfinished(config, flags, os.environ)
        if found is None:
            raise
        settings, search = found
    with ExitStack() as ending:
        ending.enter_context(_port_lock(settings.board.port))
        listening = ending.enter_context(EarlyListening(settings))
        heat = _heat(settings, record, search, listening.begin, is_new=new, refused=refused)
        board, clock = listening.from_time_s(heat.already_s)
        run_watch(settings, heat, board, clock, never_finished, Live(board, read_settings), plain=plain)
    return FINE


def _heat(
    settings: Settings,
    record: Path | None,
    search: Search | None,
    listen: Callable[[float], None],
    *,
    is_new: bool,
    refused: SettingsError | None,
) -> WatchedHeat:
    """Give the unfinished heat of this port, or a fresh one; that begins only by settings that were not `refused`.

    Before an unfinished one is replayed, `listen` is told its present (s).
    """
    lost, shape = None, []
    if not is_new and record is None:
        file = None
        try:
            file = None if settings.watch.schedule is None else find_schedule(settings.watch.schedule)
        except ScheduleError as error:
            shape.append(f"{error}; this heat goes on under the schedule in its record")
        if refused is not None:
            shape.append(f"{first_line(refused)}; this heat goes on by the settings in its record")
        heat = unfinished_heat(settings, search or find_heat(settings), file, shape, listen)
        if isinstance(heat, WatchedHeat):
            return heat
        lost = heat
    if refused is not None:
        raise refused
    if settings.watch.schedule is None:
        raise SettingsError(_NO_SCHEDULE)
    file = find_schedule(settings.watch.schedule)
    calibration, uncalibrated = calibration_or_none(settings, os.environ)
    heat = fresh_heat(settings, file, record, lasting=True, calibration=calibration, lost=lost)
    return dataclasses.replace(heat, shape=(*heat.shape, *uncalibrated))


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
