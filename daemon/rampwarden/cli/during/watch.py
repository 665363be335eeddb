"""`rampwarden watch`: the service itself."""

import dataclasses
import os
import select
import sys
from contextlib import AbstractContextManager, closing, nullcontext
from importlib.util import find_spec
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.assembly.heat import calibration_or_none
from rampwarden.assembly.heat_note import note_heat, noted_heat
from rampwarden.assembly.heat_start import WatchedHeat, find_heat, fresh_heat, unfinished_heat
from rampwarden.assembly.probes import check_probes, watched_board
from rampwarden.assembly.recorded_settings import StartSettings, settings_again, settings_at_start
from rampwarden.assembly.running import run_watch
from rampwarden.assembly.watch_services import Live
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.during.display_options import PlainOption
from rampwarden.cli.during.heat_options import CrucibleOption, MetalOption, NoteOption, RecordOption, ScheduleArgument
from rampwarden.cli.exit_status import FINE
from rampwarden.cli.questions import can_ask
from rampwarden.clock import HostClock
from rampwarden.control import make_folder
from rampwarden.errors import ControlError, RampwardenError, ScheduleError, SettingsError
from rampwarden.records import PortLock
from rampwarden.schedule_files import find_schedule
from rampwarden.settings import Settings, load_settings
from rampwarden.terminal_text import printable

# A disk that has been silent for so long is not asked for a report too, s.
_DISK_S = 1.0
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

    begun = settings_at_start(read_settings, config, flags, os.environ, may_go_on=not new and record is None)
    settings = begun.settings
    with _port_lock(settings.board.port):
        heat = _heat(begun, record, config, is_new=new)
        note_heat(config, settings, os.environ)
        clock = HostClock(heat.already_s)
        board = watched_board(settings, clock)
        live = Live(board, lambda: settings_again(read_settings, config, settings))
        run_watch(settings, heat, board, clock, never_finished, live, plain=plain)
    if sys.stdout.isatty() and _takes_more(sys.stdout.fileno()):
        # A service has two seconds to end in, and nobody looks on; its report is drawn when somebody asks.
        _tell_next_shift(heat)
        _draw_report(heat)
        _ask_what_was_seen(settings, heat)
    return FINE


def _takes_more(terminal: int) -> bool:
    """Tell whether somebody reads there: words to a terminal held with Ctrl-S would wait for ever."""
    return bool(select.select([], [terminal], [], 0)[1])


def _can_be_read(heat: WatchedHeat) -> bool:
    """Tell whether the heat's record can be looked into: of a watch that read nothing, or on a disk that hangs, not."""
    return heat.writer.is_answering(_DISK_S) and heat.writer.path.exists()


def _tell_next_shift(heat: WatchedHeat) -> None:
    """Say in five lines what whoever comes next must know; of a watch that read nothing there is nothing to say."""
    if not _can_be_read(heat):
        return
    # Loaded once the heat is over, never while it is watched.
    from rampwarden.cli.after.tell import tell  # noqa: PLC0415

    try:
        tell(heat.writer.path)
    except RampwardenError as error:
        print(f"nothing to tell the next shift: {printable(str(error))}")


def _ask_what_was_seen(settings: Settings, heat: WatchedHeat) -> None:
    """Ask once what the pot weighs and looks like; Enter passes over it, and `crucible enter` asks again."""
    if not settings.watch.crucible or not can_ask() or not _can_be_read(heat):
        return
    from rampwarden.cli.crucibles.enter import ask_after_heat  # noqa: PLC0415

    try:
        ask_after_heat(settings, heat.writer.path)
    except RampwardenError as error:
        print(f"not noted: {printable(str(error))}")


def _draw_report(heat: WatchedHeat) -> None:
    """Draw the report beside the record where that can be done; what is in its way is said, and harms nothing."""
    if find_spec("matplotlib") is None or not _can_be_read(heat):
        return
    # Its drawing is loaded once the heat is over, never while it is watched.
    from rampwarden.cli.after.report import report  # noqa: PLC0415

    try:
        # A heat that was taken up again had a report of its first part, perhaps.
        report([heat.writer.path], replace=bool(heat.taken_up))
    except RampwardenError as error:
        print(f"no report: {printable(str(error))}")


def _heat(begun: StartSettings, record: Path | None, config: Path | None, *, is_new: bool) -> WatchedHeat:
    """Give the unfinished heat of this port, or a fresh one; that begins only by settings that were not refused."""
    settings = begun.settings
    lost, shape = None, []
    if not is_new and record is None:
        file = None
        try:
            file = None if settings.watch.schedule is None else find_schedule(settings.watch.schedule)
        except ScheduleError as error:
            shape.append(f"{error}; this heat goes on under the schedule in its record")
        if begun.why:
            shape.append(f"{begun.why}; this heat goes on by the settings in its record")
        search = begun.search or find_heat(settings, noted_heat(config, os.environ))
        heat = unfinished_heat(settings, search, file, shape)
        if isinstance(heat, WatchedHeat):
            return heat
        lost = heat
    if begun.refused is not None:
        raise begun.refused
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
