"""From settings to the parts of a watch, and into the header that lets a replay build them again."""

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from rampwarden.assembly.heat import board_settings, monitor_parameters, record_header, record_path
from rampwarden.clock import Moment
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.framing import Column, Delimiter
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.errors import SettingsError
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_lines import Header, encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import schedule_of
from rampwarden.settings import Settings, load_settings
from rampwarden.sources.board import BoardSettings

STARTED = datetime(2026, 1, 2, 9, 5, 7, 123456, tzinfo=UTC)
ZERO = Moment("this start", 1234.56789, STARTED)
TABLE: dict[str, object] = {"title": "T", "segment": [{"name": "up", "kind": "ramp", "to": "1000 C"}]}


def settings_from(**values: object) -> Settings:
    """Give settings with these values at key paths written with two underscores."""
    return load_settings(None, {path.replace("__", "."): value for path, value in values.items()}, {}).settings


def header_for(settings: Settings) -> Header:
    """Give the header of a heat watched with these settings, as it is read back."""
    header = record_header(settings, monitor_parameters(settings), parse_schedule(TABLE, "t"), TABLE, STARTED, ZERO)
    return Header(**json.loads(encode_line(header), object_hook=_without_kind))


def _without_kind(table: dict[str, object]) -> dict[str, object]:
    return {key: value for key, value in table.items() if (key, value) != ("kind", "header")}


def test_default_settings_give_default_parameters() -> None:
    """The defaults stand in one place only by meaning the same in both."""
    assert monitor_parameters(Settings()) == MonitorParameters()


def test_settings_reach_the_monitor() -> None:
    """Type, silence, junction range, alarms and what is out of service."""
    settings = settings_from(
        thermocouple__type="N",
        signal__lost_after="20 s",
        signal__junction_lowest=0,
        signal__junction_highest="140 F",
    )
    parameters = monitor_parameters(settings)
    assert parameters.thermocouple_type == "N"
    assert parameters.signal_lost_s == 20.0
    assert parameters.junction_range_c == (0.0, pytest.approx(60.0))


def test_a_framed_board_needs_its_port_alone() -> None:
    """Columns and scaling are for the other format."""
    board = board_settings(settings_from(board__port="/dev/x", board__columns=["adc"], board__dtr=True))
    assert board == BoardSettings(port="/dev/x", columns=None, dtr=True)


def test_a_board_of_columns_gets_its_columns_and_scaling() -> None:
    """Scaling goes along only where there is a converter's code to scale."""
    board = board_settings(
        settings_from(
            board__format="columns",
            board__columns=["adc", "junction_c"],
            board__delimiter="semicolon",
            board__gain=41.0,
            board__interval="0.5 s",
        )
    )
    assert board.columns is not None
    assert board.columns.columns == (Column.ADC, Column.JUNCTION_C)
    assert board.columns.delimiter is Delimiter.SEMICOLON
    assert board.columns.scaling is not None
    assert (board.columns.scaling.gain, board.columns.scaling.reference_v, board.interval_s) == (41.0, 2.048, 0.5)
    plain = board_settings(settings_from(board__format="columns", board__columns=["temp_c"]))
    assert plain.columns is not None
    assert (plain.columns.scaling, plain.columns.single_slope_uv_per_c) == (None, None)


@pytest.mark.parametrize(
    ("columns", "why"),
    [
        ([], "needs exactly one of"),
        (["adc"], "needs 'junction_c'"),
        (["temp_c", "adc"], "needs exactly one of"),
        (["temp_c", "junction_c", "junction_c"], "a column stands twice"),
    ],
)
def test_columns_that_make_no_sense_are_refused_as_settings(columns: list[str], why: str) -> None:
    """Before a port is opened."""
    with pytest.raises(SettingsError, match=re.escape(why)):
        board_settings(settings_from(board__format="columns", board__columns=columns))


def test_a_header_gives_the_replay_what_the_watch_had(tmp_path: Path) -> None:
    """Through the file and back: the same parameters, the same schedule."""
    file = tmp_path / "s.toml"
    file.write_text(
        "[thermocouple]\ntype = 'N'\n[signal]\nlost_after = '20 s'\n[alarms.ramp-high]\npriority = 'low'\n"
        "[alarms.sensor-open]\nout_of_service = true\n"
    )
    settings = load_settings(file, {}, {}).settings
    parameters = monitor_parameters(settings)
    header = record_header(settings, parameters, parse_schedule(TABLE, "t"), TABLE, STARTED, ZERO)
    path = tmp_path / "heat.jsonl"
    path.write_bytes(encode_line(header))
    with RecordReader(path) as reader:
        assert parameters_of(reader.header, "x") == parameters
        assert schedule_of(reader.header, "x") == parse_schedule(TABLE, "t")


def test_a_header_names_only_what_was_changed() -> None:
    """People read it too: one alarm changed is one alarm named."""
    plain = header_for(Settings())
    assert (plain.parameters, plain.board) == ({}, {})
    settings = Settings.model_validate({"alarms": {"ramp-low": {"on_delay": 5.0}}, "board": {"baud": 9600}})
    changed = header_for(settings)
    assert list(changed.parameters) == ["alarms"]
    assert list(changed.parameters["alarms"]) == ["ramp-low"]  # type: ignore[call-overload]
    assert changed.board == {"baud": 9600}


def test_a_header_says_when_what_and_by_whom() -> None:
    """Start in UTC to the second, title, crucible, note, thermocouple, software; and a name of its own."""
    settings = settings_from(watch__crucible="A8-17", watch__note="after repair")
    first, second = header_for(settings), header_for(settings)
    assert first.started == "2026-01-02T09:05:07Z"
    assert (first.title, first.crucible, first.note, first.thermocouple) == ("T", "A8-17", "after repair", "K")
    assert (first.boot, first.zero_s, first.rehearsal) == ("this start", 1234.568, False)
    assert first.software.startswith("rampwarden ")
    assert re.fullmatch(r"[0-9a-f]{16}", first.id)
    assert first.id != second.id


def test_a_rehearsal_says_that_it_is_one_and_cannot_be_taken_up() -> None:
    """It has no place in a crucible's life, and no moment to go on from."""
    settings = Settings()
    header = record_header(settings, monitor_parameters(settings), parse_schedule(TABLE, "t"), TABLE, STARTED, None)
    assert (header.rehearsal, header.boot, header.zero_s) == (True, "", 0.0)


def test_a_record_is_named_by_date_and_schedule() -> None:
    """So that a folder of them sorts as it happened."""
    path = record_path(Path("heats"), STARTED, Path("/etc/rampwarden/schedules/zirconia.toml"))
    assert path == Path("heats/2026-01-02-090507-zirconia.jsonl")


@pytest.mark.parametrize(
    ("lost_after", "interval", "patience_s"), [("3 s", "0.5 s", 3.0), ("3 s", "2 s", 6.0), ("10 s", "1 s", 10.0)]
)
def test_a_signal_is_lost_as_soon_as_the_settings_say_but_not_between_two_readings(
    lost_after: str, interval: str, patience_s: float
) -> None:
    """A patience below the usual ten seconds counts too; a board that speaks seldom is given three intervals."""
    settings = settings_from(signal__lost_after=lost_after, board__interval=interval)
    assert monitor_parameters(settings).signal_lost_s == patience_s
