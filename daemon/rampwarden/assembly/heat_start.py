"""How a heat begins: afresh with a new record, or taken up again from an unfinished one.

Knows settings, schedule files and records; starts nothing. What it gives is everything of a watch but its source, its
clock and its outputs, and the picture of it as far as it has come. A fresh heat may be refused for what a person must
mend first; an unfinished one never is, whatever is wrong with its record, its schedule's file or the disk.
"""

import dataclasses
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rampwarden.assembly.crucible import gas_supply, known_pot
from rampwarden.assembly.heat import monitor_parameters, record_header, record_path
from rampwarden.assembly.heat_note import HeatNote
from rampwarden.assembly.record_places import Placed, bring_home, new_record, provisional_folders
from rampwarden.assembly.unfinished_record import go_on_in, gone_by
from rampwarden.clock import present_moment
from rampwarden.core.instrument import UNCALIBRATED, BoardCalibration
from rampwarden.core.model import Event
from rampwarden.core.monitor import Monitor
from rampwarden.core.quantities import counted
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RampwardenError
from rampwarden.picture import Mode, PictureKeeper, about_heat
from rampwarden.records import Header, RecordWriter, Search, TakenUp, find_unfinished, take_up, unused_name
from rampwarden.schedule_files import read_schedule
from rampwarden.settings import Settings


@dataclass(frozen=True, slots=True)
class WatchedHeat:
    """A heat about to be watched. `already_s` is how long it has been going; `taken_up` how it was found, if it was.

    Then `unacknowledged` alarms must ring again, `untold` events have still to be recorded, and `remarks` be said in
    the log. What is in bad shape is said in `shape`, on every output and in the record; `trouble` is what is wrong with
    the record itself, and `trouble_stands` until it is in its proper place. `is_pot_unknown`: the register has been
    asked of the pot in vain, and that is said.
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
    shape: tuple[str, ...] = ()
    trouble: str = ""
    trouble_stands: bool = False
    is_pot_unknown: bool = False

    def give_up(self) -> None:
        """Take back a heat that cannot be watched after all: a new record goes, an unfinished one stays."""
        self.writer.close()
        if not self.taken_up:
            self.writer.path.unlink(missing_ok=True)


@dataclass(frozen=True, slots=True)
class LostHeat:
    """What is to be said in a fresh heat of the one before: nothing, or why it could not be gone on with.

    `trouble` is raised as an alarm, `shape` only said.
    """

    trouble: str = ""
    shape: tuple[str, ...] = ()


def fresh_heat(
    settings: Settings,
    schedule_file: Path,
    record: Path | None,
    *,
    lasting: bool,
    calibration: BoardCalibration = UNCALIBRATED,
    lost: LostHeat | None = None,
) -> WatchedHeat:
    """Begin a heat at time 0 with a record of its own; `lasting` ones may be taken up again after a crash.

    `lost` is what became of the heat before. Raises `ScheduleError` for a schedule that cannot be watched, and
    `RecordError` when the record is there already; a lasting heat's record goes elsewhere when its folder is not to be
    had.
    """
    lost = lost or LostHeat()
    schedule, table = read_schedule(schedule_file)
    started = datetime.now(UTC)
    pot = known_pot(settings, settings.watch.crucible, started.date())
    known = monitor_parameters(settings)
    # A heat balance takes two probes; of one that is watched alone nothing changes.
    balanced = bool(known.probes)
    parameters = dataclasses.replace(
        known,
        calibration=calibration,
        top_c=pot.top_c,
        standing=pot.standing,
        oxidises=pot.oxidises,
        wall=pot.wall,
        pot_j_per_k=pot.capacity_j_per_k if balanced else None,
        dry_heat=pot.dry_heat if balanced else None,
        gas=gas_supply(settings),
    )
    header = record_header(settings, parameters, schedule, table, started, present_moment() if lasting else None)
    path = record or record_path(settings.watch.records, started, schedule_file)
    if record is None:
        # A clock that is not set gives the same name at each start of the machine.
        path = unused_name(path.parent, path.stem)
    placed = new_record(path, header, os.environ) if lasting else Placed(RecordWriter.create(path, header))
    return WatchedHeat(
        schedule,
        header,
        Monitor(schedule, parameters),
        placed.writer,
        _keeper(settings, placed.writer.path, schedule, header),
        shape=(*lost.shape, *filter(None, [pot.trouble])),
        trouble="; ".join(filter(None, (lost.trouble, placed.trouble))),
        trouble_stands=bool(placed.trouble),
        is_pot_unknown=bool(pot.trouble),
    )


def find_heat(settings: Settings, note: HeatNote | None = None) -> Search:
    """Look for the unfinished heat of this port, in the records' folder and where they go when that is not to be had.

    And where a `note` says that the last heat of this port was recorded: a path that was mistyped since, or a bit that
    has flipped in it, costs no heat. Raises nothing.
    """
    folders = [settings.watch.records, *provisional_folders(os.environ)]
    if note is not None and note.port == settings.board.port and Path(note.records) != folders[0].absolute():
        folders.append(Path(note.records))
    return find_unfinished(folders, settings.board.port, settings.watch.resume_within, present_moment())


def unfinished_heat(
    settings: Settings, search: Search, schedule_file: Path | None, already: Sequence[str] = ()
) -> WatchedHeat | LostHeat:
    """Take up the unfinished heat that was found, as far as its record tells; else gives what is to be said of it.

    `already` is to be said of the shape it is in besides.

    Its own record says what it is watched by: neither a schedule file that was changed since nor settings that were.
    Raises `RecordError` only when another watch is writing that record.
    """
    found = search.found
    if found is None:
        return LostHeat(search.lost, search.remarks)
    path, shape = found.path, [*already, *search.remarks, *filter(None, [search.lost])]
    try:
        by = gone_by(found, settings, schedule_file, shape)
        keeper = _keeper(settings, path, by.schedule, by.header)
        taken = take_up(path, witness=keeper, by=by)
    except RampwardenError as error:
        if found.has_whole_header and _holds_nothing(path):
            return LostHeat(shape=tuple(shape))
        return LostHeat(f"{error}; a new heat begins", tuple(shape))
    except Exception as error:  # whatever stands in a record: the furnace is hot, and somebody must watch it
        return LostHeat(f"{path.name}: cannot be replayed ({type(error).__name__}: {error}); a new heat begins")
    if taken.monitor.complete:
        return LostHeat(shape=tuple(shape))
    if taken.lost_lines:
        lines = counted(taken.lost_lines, "a line", "lines")
        shape.append(f"{path.name}: {lines} of it cannot be read, left out")
    if taken.missing_lines:
        lines = counted(taken.missing_lines, "a line", "lines")
        shape.append(f"{path.name}: {lines} of it {'is' if taken.missing_lines == 1 else 'are'} gone from its middle")
    begun = go_on_in(found, taken, by, settings.watch.records)
    if begun[2] and path.parent != settings.watch.records and begun[0].writer.path != path:
        # What the broker has not got of it goes out from its folder, under the keys it has.
        _, sentence = bring_home(path, settings.watch.records, settings.mqtt.device)
        shape.append(sentence)
    return _going_on(settings, taken, begun, keeper, shape)


def _going_on(
    settings: Settings, taken: TakenUp, begun: tuple[Placed, Header, bool], keeper: PictureKeeper, shape: list[str]
) -> WatchedHeat:
    placed, header, is_home = begun
    keeper.note_record(_shown(placed.writer.path))
    return WatchedHeat(
        schedule=taken.monitor.schedule,
        header=header,
        monitor=taken.monitor,
        writer=placed.writer,
        keeper=keeper,
        already_s=taken.now_s,
        taken_up=taken.sentence,
        remarks=taken.remarks,
        unacknowledged=taken.unacknowledged,
        untold=taken.untold,
        shape=tuple(shape),
        trouble=placed.trouble,
        trouble_stands=not is_home,
    )


def _holds_nothing(path: Path) -> bool:
    """Tell whether no input ever came into a record: then nothing is lost with it."""
    try:
        with path.open("rb") as file:
            file.readline()
            return not file.read(1)
    except OSError:
        return False


def _keeper(settings: Settings, path: Path, schedule: Schedule, header: Header) -> PictureKeeper:
    """Give the keeper of a heat's picture."""
    mode = Mode.REHEARSAL if header.rehearsal else Mode.LIVE
    about = about_heat(schedule, mode, header.started, _shown(path), header.crucible, header.metal)
    return PictureKeeper(schedule, about, has_broker=bool(settings.mqtt.broker))


def _shown(path: Path) -> str:
    # A file's name may be bytes that are no text.
    return os.fsencode(path).decode(errors="replace")
