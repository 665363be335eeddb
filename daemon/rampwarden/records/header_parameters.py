"""What a record's header carries of the watch's parameters: only what was changed, and read back leniently.

A record outlives the version that wrote it. So a header names the parameters that were not at their default, and of an
alarm only the fields that settings changed. Reading takes what it knows, gives everything else its default and counts
what it had to leave out. Only what a temperature is measured by is never guessed: that must be readable or the record
is refused.

Records of the first version carry whole catalogue entries; of those, too, only what settings can change is taken.
"""

import dataclasses
import math
import re
from importlib.metadata import version

import msgspec

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.instrument import thermocouple
from rampwarden.core.model import Priority
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.errors import RecordError
from rampwarden.records.record_lines import Header

_DELAYS = ("on_delay_s", "off_delay_s")
_CHANGEABLE = ("priority", *_DELAYS)
"""What settings may change of an alarm."""
_NEVER_CHANGED = frozenset(field.name for field in dataclasses.fields(AlarmEntry)).difference(_CHANGEABLE)
"""What stands in old records besides, and always was the catalogue's own."""
_PRIORITIES = [priority.value for priority in Priority]
_LENIENT = ("alarms", "out_of_service")
_MOST_NAMED = 5
_LONGEST_NAME = 40
"""Characters. A header may hold a megabyte of keys that are none of ours; a remark names a few."""


def running_software() -> str:
    """Give the name and version of this program, as headers carry it."""
    return f"rampwarden {version('rampwarden')}"


def changed_parameters(parameters: MonitorParameters) -> dict[str, object]:
    """Give the parameters that are not at their default, of an alarm only the changed fields: people read headers."""
    tree: dict[str, object] = msgspec.to_builtins(parameters)
    usual: dict[str, object] = msgspec.to_builtins(MonitorParameters())
    changed = {name: value for name, value in tree.items() if name != "alarms" and value != usual[name]}
    alarms = {name: _changed_fields(entry, CATALOGUE[name]) for name, entry in parameters.alarms.items()}
    if named := {name: fields for name, fields in alarms.items() if fields}:
        changed["alarms"] = named
    return changed


def parameters_of(header: Header, where: str) -> MonitorParameters:
    """Give the parameters a record was watched under; what it does not name takes its default.

    What this version does not know is left out (`header_remarks` says so). Raises `RecordError`, beginning with
    `where`, when thermocouple, calibration or times cannot be used: a heat must not be measured by a guess.
    """
    strict = {name: value for name, value in header.parameters.items() if name not in _LENIENT}
    try:
        parameters = msgspec.convert(strict, MonitorParameters)
        if header.thermocouple and "thermocouple_type" not in header.parameters:
            parameters = dataclasses.replace(parameters, thermocouple_type=header.thermocouple)
        thermocouple(parameters.thermocouple_type)
    except (msgspec.ValidationError, ValueError) as error:
        raise RecordError(f"{where}: the header's parameters cannot be used: {error}") from error
    reading = _LenientReading(header)
    return dataclasses.replace(parameters, alarms=reading.alarms, out_of_service=tuple(reading.out_of_service))


def header_remarks(header: Header, running: str | None = None) -> tuple[str, ...]:
    """Say what of a header could not be taken, and whether a newer program wrote it; nothing if all is well.

    `running` is this program's name and version, for tests.
    """
    this = running or running_software()
    remarks = []
    if _number(header.software) > _number(this):
        remarks.append(f"written by {_short(header.software)}, which is newer than this {this}")
    left_out = _LenientReading(header).left_out
    if left_out:
        more = ", …" if len(left_out) > _MOST_NAMED else ""
        named = ", ".join(left_out[:_MOST_NAMED]) + more
        are, were = ("is", "was") if len(left_out) == 1 else ("are", "were")
        remarks.append(f"{len(left_out)} of its settings {are} unknown to this version and {were} left out: {named}")
    return tuple(remarks)


def takeover_remark(header: Header, running: str | None = None) -> str:
    """Say that a heat was begun by an older program than the one that goes on with it; empty if it was not."""
    this = running or running_software()
    if not header.software or _number(header.software) >= _number(this):
        return ""
    return f"begun by {_short(header.software)}, from here on judged by {this}"


class _LenientReading:
    """Takes what it knows of a header's alarms and names the rest."""

    def __init__(self, header: Header) -> None:
        known = {field.name for field in dataclasses.fields(MonitorParameters)}
        self.left_out = [_short(name) for name in header.parameters if name not in known]
        self.alarms = dict(CATALOGUE)
        self.out_of_service: list[str] = []
        self._take_alarms(header.parameters.get("alarms", {}))
        self._take_out_of_service(header.parameters.get("out_of_service", []))

    def _take_alarms(self, alarms: object) -> None:
        if not isinstance(alarms, dict):
            self.left_out.append("alarms")
            return
        for key, fields in alarms.items():
            if key in CATALOGUE and isinstance(fields, dict):
                self.alarms[key] = self._entry(key, CATALOGUE[key], fields)
            else:
                self.left_out.append(f"alarms.{_short(key)}")

    def _take_out_of_service(self, resting: object) -> None:
        if not isinstance(resting, list | tuple):
            self.left_out.append("out_of_service")
            return
        for key in resting:
            if isinstance(key, str) and key in CATALOGUE:
                self.out_of_service.append(key)
            else:
                self.left_out.append(f"out_of_service.{_short(key)}")

    def _entry(self, alarm: str, entry: AlarmEntry, fields: dict[str, object]) -> AlarmEntry:
        for key, value in fields.items():
            if key == "priority" and value in _PRIORITIES:
                entry = dataclasses.replace(entry, priority=Priority(value))
            elif key == "on_delay_s" and (delay_s := _delay_s(value)) is not None:
                entry = dataclasses.replace(entry, on_delay_s=delay_s)
            elif key == "off_delay_s" and (delay_s := _delay_s(value)) is not None:
                entry = dataclasses.replace(entry, off_delay_s=delay_s)
            elif key not in _NEVER_CHANGED:
                what = f"alarms.{alarm}.{_short(key)}"
                self.left_out.append(f"{what} = {_short(value)}" if key in _CHANGEABLE else what)
        return entry


def _changed_fields(entry: AlarmEntry, usual: AlarmEntry) -> dict[str, object]:
    fields = ((name, getattr(entry, name), getattr(usual, name)) for name in _CHANGEABLE)
    return {name: msgspec.to_builtins(value) for name, value, default in fields if value != default}


def _delay_s(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or value < 0.0:
        return None
    return float(value)


def _number(software: str) -> tuple[int, ...]:
    """Give a version as numbers that compare; of a program that names none, nothing, which is older than any."""
    found = re.search(r"\b\d{1,6}(?:\.\d{1,6}){0,5}", software)
    parts = [int(part) for part in found[0].split(".")] if found else []
    while parts and parts[-1] == 0:
        parts.pop()
    return tuple(parts)


def _short(value: object) -> str:
    text = str(value)
    return text if len(text) <= _LONGEST_NAME else text[:_LONGEST_NAME] + "…"
