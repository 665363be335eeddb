"""One alarm, one place: whatever lists alarms says what their entries say."""

import importlib
import pkgutil
import re

import rampwarden.core
from alarm_tables import EXAMPLE, README, with_sections, with_table
from rampwarden.assembly.heat import monitor_parameters
from rampwarden.core.alarm_entry import AlarmEntry, ReportMeaning
from rampwarden.core.catalogue import CATALOGUE, ENTRIES
from rampwarden.core.model import AlarmState, HeatStatus, Quality, StandingAlarm
from rampwarden.outputs.mqtt.homie import Device
from rampwarden.report.consequences import BREACHES, DOUBTS, inspections
from rampwarden.settings.loading import load_settings


def defined_entries() -> set[AlarmEntry]:
    """Give every entry that some module of the core defines."""
    modules = pkgutil.walk_packages(rampwarden.core.__path__, "rampwarden.core.")
    values = [value for module in modules for value in vars(importlib.import_module(module.name)).values()]
    return {value for value in values if isinstance(value, AlarmEntry)}


def everything_stands() -> HeatStatus:
    """Give a status in which every alarm waits to be acknowledged."""
    alarms = tuple(
        StandingAlarm(each.name, AlarmState.UNACKNOWLEDGED, each.priority, "it is", 1.0, each.action)
        for each in ENTRIES
    )
    return HeatStatus(
        2.0, 20.0, Quality.GOOD, None, None, 1, 1, "", None, (None, None), 0.0, 0.0, None, None, alarms, read_s=2.0
    )


def test_every_list_of_alarms_says_what_their_entries_say() -> None:
    """Catalogue, README, settings, broker and report: an entry left out of one is an alarm somebody cannot find."""
    # The catalogue holds what the judges define: all of it, each name once.
    assert set(ENTRIES) == defined_entries()
    assert list(CATALOGUE.items()) == [(entry.name, entry) for entry in ENTRIES]
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)+", name) for name in CATALOGUE)

    # What is written out of the entries: `make tables` would change nothing, and what it wrote is what is in force.
    readme, example = README.read_text(encoding="utf-8"), EXAMPLE.read_text(encoding="utf-8")
    assert with_table(readme) == readme
    assert with_sections(example) == example
    assert re.findall(r"^#\[alarms\.(.+)\]$", example, re.MULTILINE) == list(CATALOGUE)
    assert monitor_parameters(load_settings(None, {}, {}).settings).alarms == dict(CATALOGUE)

    # The broker: a topic each, with what is to be done.
    told = dict(Device("homie", "furnace-1", "").alerts(everything_stands()))
    assert told == {
        f"homie/5/furnace-1/$alert/{entry.name}": f"NEW · {entry.name} since 0:00: it is · {entry.action}"
        for entry in ENTRIES
    }

    # The report: each alarm breaks the schedule, casts doubt or does neither, and what is broken is looked at.
    for entry in ENTRIES:
        assert (entry.name in BREACHES) + (entry.name in DOUBTS) + (entry.report is ReportMeaning.NO_VERDICT) == 1
    assert all(inspections(entry, 700.0) for entry in DOUBTS.values())
    assert all(set(entry.look_at) <= set(inspections(entry, 700.0)) for entry in ENTRIES)
