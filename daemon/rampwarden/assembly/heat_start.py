"""How a heat begins: afresh with a new record, or taken up again from an unfinished one.

Knows settings, schedule files and records; starts nothing. What it gives is everything of a watch but its source, its
clock and its outputs, and the picture of it as far as it has come.
"""

import contextlib
import dataclasses
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rampwarden.assembly.crucible import known_pot
from rampwarden.assembly.heat import monitor_parameters, record_header, record_path
from rampwarden.clock import present_moment
from rampwarden.core.instrument import UNCALIBRATED, BoardCalibration
from rampwarden.core.model import Event
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RecordError
from rampwarden.picture import Mode, PictureKeeper, about_heat
from rampwarden.records import Header, RecordReader, RecordWriter, TakenUp, find_unfinished, take_up
from rampwarden.schedule_files import read_schedule
from rampwarden.settings import Settings


@dataclass(frozen=True, slots=True)
class WatchedHeat:
    """A heat about to be watched. `already_s` is how long it has been going; `taken_up` how it was found, if it was.

    Then `unacknowledged` alarms must ring again, `untold` events have still to be recorded, and `remarks` be said.
    """

    schedule: Schedule
    header: Header
    monitor: Monitor
    writer: RecordWriter
    keeper: PictureKeeper
    already_s: float = 0.0
    taken_up: str = ""
    remarks: tuple[str, ...] = ()
    unacknowledged: tuple[Event, ...] = ()
    untold: tuple[Event, ...] = ()

    def give_up(self) -> None:
        """Take back a heat that cannot be watched after all: a new record goes, an unfinished one stays."""
        self.writer.close()
        if not self.taken_up:
            self.writer.path.unlink(missing_ok=True)


def fresh_heat(
    settings: Settings,
    schedule_file: Path,
    record: Path | None,
    *,
    lasting: bool,
    calibration: BoardCalibration = UNCALIBRATED,
) -> WatchedHeat:
    """Begin a heat at time 0 with a record of its own; `lasting` ones may be taken up again after a crash."""
    schedule, table = read_schedule(schedule_file)
    started = datetime.now(UTC)
    pot = known_pot(settings, settings.watch.crucible, started.date())
    parameters = dataclasses.replace(
        monitor_parameters(settings),
        calibration=calibration,
        top_c=pot.top_c,
        standing=pot.standing,
        oxidises=pot.oxidises,
    )
    header = record_header(settings, parameters, schedule, table, started, present_moment() if lasting else None)
    path = record or record_path(settings.watch.records, started, schedule_file)
    writer = RecordWriter.create(path, header)
    return WatchedHeat(
        schedule, header, Monitor(schedule, parameters), writer, _keeper(settings, path, schedule, header)
    )


def unfinished_heat(settings: Settings, schedule_file: Path) -> WatchedHeat | None:
    """Take up the unfinished heat of this port, if there is one young enough; raises `RecordError` if it is another's.

    A heat that was broken off under another schedule is somebody's decision to make, not ours.
    """
    folder, within_s = settings.watch.records, settings.watch.resume_within
    path = find_unfinished(folder, settings.board.port, within_s, present_moment())
    if path is None:
        return None
    schedule, table = read_schedule(schedule_file)
    keeper = _keeper(settings, path, schedule, _header(path))
    found = _taken_up(path, keeper)
    if found is None or found.monitor.complete:
        return None
    if found.header.schedule != table:
        raise RecordError(
            f"{path}: an unfinished heat under another schedule ({found.header.title!r}); "
            "give that schedule to go on with it, or --new to start afresh"
        )
    writer = RecordWriter.resume(path, found.next_seq)
    return WatchedHeat(
        schedule=found.monitor.schedule,
        header=found.header,
        monitor=found.monitor,
        writer=writer,
        keeper=keeper,
        already_s=found.now_s,
        taken_up=found.sentence,
        remarks=found.remarks,
        unacknowledged=found.unacknowledged,
        untold=found.untold,
    )


def _taken_up(path: Path, keeper: PictureKeeper) -> TakenUp | None:
    """Take a record up; one in which nothing was watched yet is no heat to go on with."""
    with contextlib.suppress(RecordError):
        return take_up(path, witness=keeper)
    return None


def _header(path: Path) -> Header:
    with RecordReader(path) as reader:
        return reader.header


def _keeper(settings: Settings, path: Path, schedule: Schedule, header: Header) -> PictureKeeper:
    """Give the keeper of a heat's picture."""
    mode = Mode.REHEARSAL if header.rehearsal else Mode.LIVE
    # A file's name may be bytes that are no text.
    record = os.fsencode(path).decode(errors="replace")
    about = about_heat(schedule, mode, header.started, record, header.crucible, header.metal)
    return PictureKeeper(schedule, about, has_broker=bool(settings.mqtt.broker))
