"""What a heat takes from the settings: the core's parameters, board and calibration, the record's name and header.

The core never sees a settings object; here settings become the small frozen parameters it takes.
"""

import dataclasses
import secrets
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from rampwarden.assembly.board_speech import board_source
from rampwarden.assembly.probes import other_probes
from rampwarden.clock import Moment
from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.instrument import UNCALIBRATED, BoardCalibration
from rampwarden.core.monitor_parameters import MonitorParameters, least_patience_s, parameters_for_interval
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RecordError
from rampwarden.records import FORMAT, Header, changed_parameters, find_calibration, read_calibration, running_software
from rampwarden.settings import AlarmSection, Settings
from rampwarden.sources import BoardSettings


def monitor_parameters(settings: Settings) -> MonitorParameters:
    """Give the core's parameters for these settings."""
    alarms = {name: _entry(entry, settings.alarms.get(name)) for name, entry in CATALOGUE.items()}
    patience = parameters_for_interval(settings.board.interval)
    return MonitorParameters(
        thermocouple_type=settings.thermocouple.type,
        tolerance_class=settings.thermocouple.tolerance_class,
        place=str(settings.thermocouple.place or ""),
        signal_lost_s=max(settings.signal.lost_after, least_patience_s(settings.board.interval)),
        longest_credited_s=patience.longest_credited_s,
        junction_range_c=(settings.signal.junction_lowest, settings.signal.junction_highest),
        alarms=alarms,
        probes=other_probes(settings),
        out_of_service=tuple(name for name, section in settings.alarms.items() if section.out_of_service),
    )


def board_calibration(settings: Settings, environment: Mapping[str, str]) -> BoardCalibration:
    """Give the calibration of the board at this port, none where there is none.

    Raises `RecordError` when there is one that cannot be read: a heat must not begin with another than is meant.
    """
    chosen = settings.board.calibration
    if chosen == "none":
        return UNCALIBRATED
    path = Path(chosen).expanduser() if chosen else find_calibration(settings.board.port, environment)
    return UNCALIBRATED if path is None else read_calibration(path)


def calibration_or_none(settings: Settings, environment: Mapping[str, str]) -> tuple[BoardCalibration, tuple[str, ...]]:
    """Give the board's calibration, or none and what is to be said where it cannot be read: it is watched all the same.

    A calibration takes out degrees; nobody watching costs the pot.
    """
    try:
        return board_calibration(settings, environment), ()
    except RecordError as error:
        return UNCALIBRATED, (f"measured without the board's calibration: {error}",)


def board_settings(settings: Settings) -> BoardSettings:
    """Give the board as the serial source takes it; raises `SettingsError` when its settings make no sense together."""
    return board_source(settings.board)


def record_header(
    settings: Settings,
    parameters: MonitorParameters,
    schedule: Schedule,
    table: dict[str, object],
    started: datetime,
    zero: Moment | None,
) -> Header:
    """Give the first line of this heat's record: everything a replay needs, and at `zero` what a crash would.

    Only a rehearsal has no `zero`.
    """
    return Header(
        format=FORMAT,
        started=started.isoformat(timespec="seconds").replace("+00:00", "Z"),
        id=secrets.token_hex(8),
        title=schedule.title,
        note=settings.watch.note,
        schedule=table,
        crucible=settings.watch.crucible,
        metal=settings.watch.metal,
        thermocouple=settings.thermocouple.type,
        board=settings.board.model_dump(mode="json", exclude_defaults=True),
        parameters=changed_parameters(parameters),
        boot=zero.boot if zero else "",
        zero_s=round(zero.host_s, 3) if zero else 0.0,
        software=running_software(),
        rehearsal=zero is None,
        settings=settings.model_dump(mode="json", exclude_defaults=True),
    )


def record_path(folder: Path, started: datetime, schedule_file: Path) -> Path:
    """Give the usual name of a new record: when and what, so that a folder of them reads like a logbook."""
    return folder / f"{started:%Y-%m-%d-%H%M%S}-{schedule_file.stem}.jsonl"


def _entry(entry: AlarmEntry, section: AlarmSection | None) -> AlarmEntry:
    if section is None:
        return entry
    return dataclasses.replace(
        entry,
        priority=entry.priority if section.priority is None else section.priority,
        on_delay_s=entry.on_delay_s if section.on_delay is None else section.on_delay,
        off_delay_s=entry.off_delay_s if section.off_delay is None else section.off_delay,
    )
