"""What an unfinished heat is gone on by, and the record it goes on in, when either is not as it should be.

Its own header comes first; what cannot be read of that is taken from the settings and the schedule's file, and said. A
record that cannot be written, or that would replay to another story, is left as it is: what is legible of it begins a
new one.
"""

import contextlib
import dataclasses
import os
from datetime import timedelta
from pathlib import Path

from msgspec.structs import replace

from rampwarden.assembly.heat import monitor_parameters
from rampwarden.assembly.record_places import Placed, in_memory, provisional_folders, provisional_words
from rampwarden.clock import present_moment
from rampwarden.core.heat import parse_schedule
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.quantities import counted
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RecordError, ScheduleError
from rampwarden.records import (
    GoneBy,
    Header,
    RecordWriter,
    TakenUp,
    Unfinished,
    begin_anew,
    changed_parameters,
    parameters_of,
)
from rampwarden.schedule_files import read_schedule
from rampwarden.settings import Settings
from rampwarden.terminal_text import error_lines


def gone_by(found: Unfinished, settings: Settings, schedule_file: Path | None, shape: list[str]) -> GoneBy:
    """Give what the heat is watched by; adds to `shape` what had to stand in for its record, or was changed since.

    Raises `ScheduleError` when no schedule is left: neither the record's nor that of a file.
    """
    schedule, table = _schedule(found, schedule_file, shape)
    parameters = _parameters(found, settings, shape)
    header = found.header
    if not header.board:
        header = replace(header, board=settings.board.model_dump(mode="json", exclude_defaults=True))
    if table is not header.schedule:
        header = replace(header, schedule=table, title=schedule.title)
    if _legible_parameters(found) is None:
        # The thermocouple stands in the header besides, and is believed before its default.
        changed = changed_parameters(parameters)
        header = replace(header, parameters=changed, thermocouple=parameters.thermocouple_type)
    return GoneBy(header, schedule, parameters)


def go_on_in(found: Unfinished, taken: TakenUp, by: GoneBy, home: Path) -> tuple[Placed, Header, bool]:
    """Give the record the heat goes on in, its header, and whether it is in its `home` folder.

    Raises `RecordError` only when another watch is writing the old one.
    """
    why = _why_anew(found, taken, by)
    if not why and found.path.parent != home:
        with contextlib.suppress(RecordError):
            placed, fresh = _anew(taken, by.header, home, "it was kept in a provisional place")
            return placed, fresh, True
    if not why:
        try:
            writer = RecordWriter.resume(found.path, taken.next_seq)
        except RecordError as error:
            if not isinstance(error.__cause__, OSError):
                raise
            why = error.__cause__.strerror or str(error)
        else:
            is_home = found.path.parent == home
            return Placed(writer, "" if is_home else provisional_words(found.path)), by.header, is_home
    for folder in (home, *provisional_folders(os.environ)):
        with contextlib.suppress(RecordError):
            placed, fresh = _anew(taken, by.header, folder, why)
            if folder == home:
                return placed, fresh, True
            where = provisional_words(placed.writer.path)
            return dataclasses.replace(placed, trouble=f"{placed.trouble}; {where}"), fresh, False
    header = _as_of_now(by.header, taken)
    return in_memory(header, _cannot(taken, why), taken.believed_lines()), header, False


def _why_anew(found: Unfinished, taken: TakenUp, by: GoneBy) -> str:
    """Say why the record cannot be continued as it is; empty if it can."""
    if not found.has_whole_header:
        return "its first line is damaged"
    if by.header != found.header:
        return "its header cannot be used as it is"
    if taken.disbelieved:
        lines = counted(taken.disbelieved, "a line", "lines")
        return f"{lines} of it cannot be dated as written"
    return ""


def _anew(taken: TakenUp, header: Header, folder: Path, why: str) -> tuple[Placed, Header]:
    path, fresh = begin_anew(taken.path, _as_of_now(header, taken), taken.believed_lines(), taken.lines, folder)
    writer = RecordWriter.resume(path, taken.lines + 1)
    return Placed(writer, f"{_cannot(taken, why)}: the heat goes on in {path.name}"), fresh


def _cannot(taken: TakenUp, why: str) -> str:
    return f"{taken.path.name} cannot be continued ({why})"


def _as_of_now(header: Header, taken: TakenUp) -> Header:
    """Date a header by the present: the old one may be of another start of the machine, or without any date."""
    now = present_moment()
    started = header.started
    if not started:
        began = now.wall - timedelta(seconds=taken.now_s)
        started = began.isoformat(timespec="seconds").replace("+00:00", "Z")
    return replace(header, started=started, boot=now.boot, zero_s=round(now.host_s - taken.now_s, 3))


def _schedule(found: Unfinished, file: Path | None, shape: list[str]) -> tuple[Schedule, dict[str, object] | None]:
    name, table = found.path.name, found.header.schedule
    if table is not None:
        with contextlib.suppress(ScheduleError):
            schedule = parse_schedule(table, name)
            _compare(name, table, file, shape)
            return schedule, table
    if file is None:
        raise ScheduleError(f"{name}: its schedule cannot be read, and no other was given")
    schedule, fresh = read_schedule(file)
    shape.append(f"{name}: its schedule cannot be read; the heat goes on under {file}")
    return schedule, fresh


def _compare(name: str, table: dict[str, object], file: Path | None, shape: list[str]) -> None:
    """Say that the schedule's file is not what the heat is watched by."""
    rules = f"this heat goes on under the schedule in its record, {name}"
    if file is None:
        return
    try:
        _, fresh = read_schedule(file)
    except ScheduleError as error:
        shape.append(f"{error_lines(str(error))[0]}; {rules}")
        return
    if fresh != table:
        shape.append(f"{file}: is not what this heat began under; {rules}. For a new heat: --new")


def _parameters(found: Unfinished, settings: Settings, shape: list[str]) -> MonitorParameters:
    legible = _legible_parameters(found)
    if legible is not None:
        return legible
    shape.append(f"{found.path.name}: what it was measured and judged by cannot be read; the present settings stand in")
    return monitor_parameters(settings)


def _legible_parameters(found: Unfinished) -> MonitorParameters | None:
    # A header of which only pieces are left may have lost them, where a whole one has none to lose.
    if not found.has_whole_header and not found.header.parameters and not found.header.software:
        return None
    try:
        return parameters_of(found.header, found.path.name)
    except RecordError:
        return None
