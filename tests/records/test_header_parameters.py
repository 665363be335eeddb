"""What a header carries of the watch's parameters, and what becomes of those of other versions."""

import dataclasses

import msgspec
import pytest

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import Priority, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.errors import RecordError
from rampwarden.records.header_parameters import (
    changed_parameters,
    header_remarks,
    parameters_of,
    running_software,
    takeover_remark,
)
from rampwarden.records.record_lines import FORMAT, Header

TABLE: dict[str, object] = {"title": "T", "segment": [{"name": "up", "kind": "ramp", "to": "1000 C"}]}
OURS = "rampwarden 0.4.1"


def header(**fields: object) -> Header:
    """Give a header with these fields."""
    return msgspec.convert({"kind": "header", "format": FORMAT, "started": "2026-01-01T09:00:00Z", **fields}, Header)


def test_a_header_that_names_nothing_gives_the_defaults() -> None:
    """Enough to replay by."""
    assert parameters_of(header(), "x") == MonitorParameters()


def test_the_thermocouple_named_in_the_header_is_the_one_that_is_replayed() -> None:
    """Unless the parameters name another, which are what the watch used."""
    assert parameters_of(header(thermocouple="N"), "x").thermocouple_type == "N"
    both = header(thermocouple="N", parameters={"thermocouple_type": "S"})
    assert parameters_of(both, "x").thermocouple_type == "S"


def test_parameters_in_the_header_are_those_of_the_day() -> None:
    """And keys this version does not know are kept out of the way."""
    given = header(parameters={"signal_lost_s": 25.0, "junction_range_c": [0, 40], "later": {"x": 1}})
    parameters = parameters_of(given, "x")
    assert (parameters.signal_lost_s, parameters.junction_range_c) == (25.0, (0.0, 40.0))


def test_a_record_older_than_an_alarm_is_replayed_with_it_at_its_default() -> None:
    """Its header names only alarms that were changed then; the others are the catalogue's."""
    entry = {**msgspec.to_builtins(CATALOGUE["ramp-high"]), "priority": "low"}
    parameters = parameters_of(header(parameters={"alarms": {"ramp-high": entry}}), "x")
    assert parameters.alarms["ramp-high"].priority is Priority.LOW
    assert set(parameters.alarms) == set(CATALOGUE)
    Monitor(parse_schedule(TABLE, "test"), parameters).feed(Reading(0.0, temp_c=20.0))


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"thermocouple": "Q"}, "thermocouple type 'Q' is unknown"),
        ({"parameters": {"thermocouple_type": "Z"}}, "thermocouple type 'Z' is unknown"),
        ({"parameters": {"signal_lost_s": "soon"}}, "Expected `float`, got `str`"),
    ],
)
def test_parameters_that_cannot_be_used_are_told_with_the_record(fields: dict[str, object], why: str) -> None:
    """One line: the record, then what is wrong in its header."""
    with pytest.raises(RecordError) as caught:
        parameters_of(header(**fields), "heat.jsonl")
    assert str(caught.value).startswith("heat.jsonl: the header's parameters cannot be used: ")
    assert why in str(caught.value)


def test_only_the_changed_fields_of_an_alarm_are_written() -> None:
    """The catalogue's texts belong to the version that reads, not to the record."""
    alarms = dict(CATALOGUE)
    alarms["ramp-low"] = dataclasses.replace(alarms["ramp-low"], on_delay_s=7.0)
    alarms["flame-out"] = dataclasses.replace(alarms["flame-out"], priority=Priority.LOW, off_delay_s=1.0)
    changed = changed_parameters(MonitorParameters(alarms=alarms, out_of_service=("sensor-open",)))
    assert msgspec.json.decode(msgspec.json.encode(changed)) == {
        "alarms": {"ramp-low": {"on_delay_s": 7.0}, "flame-out": {"priority": "low", "off_delay_s": 1.0}},
        "out_of_service": ["sensor-open"],
    }


@pytest.mark.parametrize("name", list(CATALOGUE))
def test_what_was_written_is_read_back(name: str) -> None:
    """Each alarm, each field, through the header's JSON."""
    usual = CATALOGUE[name]
    other = Priority.LOW if usual.priority is not Priority.LOW else Priority.HIGH
    for change in ({"priority": other}, {"on_delay_s": usual.on_delay_s + 1.5}, {"off_delay_s": 0.25}):
        given = MonitorParameters(alarms={**CATALOGUE, name: dataclasses.replace(usual, **change)})  # type: ignore[arg-type]
        tree = msgspec.json.decode(msgspec.json.encode(changed_parameters(given)))
        assert parameters_of(header(parameters=tree), "x") == given
        assert header_remarks(header(parameters=tree, software=OURS), OURS) == ()


def test_a_whole_entry_of_an_old_record_counts_for_what_settings_can_change() -> None:
    """The first version wrote the whole catalogue entry; its texts were its own, and nobody had chosen them."""
    entry = {**msgspec.to_builtins(CATALOGUE["ramp-high"]), "priority": "low", "why": "told otherwise then"}
    old = header(parameters={"alarms": {"ramp-high": entry}}, software=OURS)
    expected = dataclasses.replace(CATALOGUE["ramp-high"], priority=Priority.LOW)
    assert parameters_of(old, "x").alarms["ramp-high"] == expected
    assert header_remarks(old, OURS) == ()


UNKNOWN: list[tuple[dict[str, object], str]] = [
    ({"alarms": {"gas-low": {"priority": "low"}}}, "alarms.gas-low"),
    ({"alarms": {"ramp-high": {"priority": "urgent"}}}, "alarms.ramp-high.priority = urgent"),
    ({"alarms": {"ramp-high": {"priority": ["low"]}}}, "alarms.ramp-high.priority = ['low']"),
    ({"alarms": {"ramp-high": {"sound": "horn"}}}, "alarms.ramp-high.sound"),
    ({"alarms": {"ramp-high": {"on_delay_s": "soon"}}}, "alarms.ramp-high.on_delay_s = soon"),
    ({"alarms": {"ramp-high": {"off_delay_s": -1.0}}}, "alarms.ramp-high.off_delay_s = -1.0"),
    ({"alarms": {"ramp-high": {"on_delay_s": True}}}, "alarms.ramp-high.on_delay_s = True"),
    ({"alarms": {"ramp-high": "loud"}}, "alarms.ramp-high"),
    ({"alarms": ["ramp-high"]}, "alarms"),
    ({"out_of_service": ["gas-low"]}, "out_of_service.gas-low"),
    ({"out_of_service": [7]}, "out_of_service.7"),
    ({"out_of_service": "ramp-high"}, "out_of_service"),
    ({"gate": {"tolerance_c": 6.0}}, "gate"),
    ({"noise": {"memory_s": 3600.0}}, "noise"),
    ({"later": {"x": 1}}, "later"),
]


@pytest.mark.parametrize(("parameters", "named"), UNKNOWN)
def test_what_is_unknown_is_left_out_and_said(parameters: dict[str, object], named: str) -> None:
    """A later version's alarm, field or priority costs itself and nothing else."""
    given = header(parameters=parameters, software=OURS)
    assert parameters_of(given, "x") == MonitorParameters()
    said = f"1 of its settings is unknown to this version and was left out: {named}"
    assert header_remarks(given, OURS) == (said,)


def test_what_is_known_beside_something_unknown_is_taken() -> None:
    """The same alarm's delay, and the alarm beside it."""
    tree = {
        "ramp-high": {"priority": "urgent", "on_delay_s": 3},
        "gas-low": {"priority": "high"},
        "ramp-low": {"priority": "high"},
    }
    alarms = parameters_of(header(parameters={"alarms": tree, "out_of_service": ["x", "sensor-open"]}), "x").alarms
    assert alarms["ramp-high"].on_delay_s == 3.0
    assert alarms["ramp-high"].priority is CATALOGUE["ramp-high"].priority
    assert alarms["ramp-low"].priority is Priority.HIGH


def test_a_thousand_unknown_keys_are_counted_and_a_few_named() -> None:
    """A header may hold a megabyte of them."""
    (remark,) = header_remarks(header(parameters={f"{n:04}" + "x" * 500: 1 for n in range(1000)}, software=OURS), OURS)
    assert remark.startswith("1000 of its settings are unknown")
    assert len(remark) < 400
    assert remark.endswith(", …")


@pytest.mark.parametrize(
    ("software", "newer", "older"),
    [
        ("rampwarden 0.4.1", False, False),
        ("rampwarden 0.4.2", True, False),
        ("rampwarden 0.10.0", True, False),
        ("rampwarden 1", True, False),
        ("rampwarden 0.4", False, True),
        ("rampwarden 0.3.9", False, True),
        ("", False, False),
        ("something else", False, True),
    ],
)
def test_which_version_wrote_a_record_is_said_when_it_matters(software: str, newer: bool, older: bool) -> None:
    """A newer one whenever it is read; an older one when its heat is gone on with."""
    given = header(software=software)
    said = (f"written by {software}, which is newer than this {OURS}",) if newer else ()
    assert header_remarks(given, OURS) == said
    assert takeover_remark(given, OURS) == (f"begun by {software}, from here on judged by {OURS}" if older else "")


def test_this_version_is_neither_newer_nor_older_than_itself() -> None:
    """And its name holds a version at all."""
    given = header(software=running_software())
    assert (header_remarks(given), takeover_remark(given)) == ((), "")
    assert takeover_remark(header(software="rampwarden 0.0.0.1")) != ""
