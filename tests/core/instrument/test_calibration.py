"""A board's calibration: what it corrects, how sure it is, and that record, replay, export and report carry it."""

import dataclasses
import io
import math
from pathlib import Path

import msgspec
import pytest

from invented_heat import GOOD, write_record
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.calibration import UNCALIBRATED, BoardCalibration
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.instrument.uncertainty import temperature_uncertainty
from rampwarden.core.model import Noise, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.errors import SettingsError
from rampwarden.records.csv_files import write_csv
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay, schedule_of
from rampwarden.report.assembling import edit
from rampwarden.report.course import read_course
from rampwarden.report.units import Scale

TABLE: dict[str, object] = {"title": "T", "segment": [{"name": "up", "kind": "ramp", "to": "1000 C"}]}
MADE = BoardCalibration(20.0, 1.01, 2.0, 0.0005, "2026-01-01", ("shorted input", "20.644 mV"))
TYPE_K = thermocouple("K")


def monitor(calibration: BoardCalibration) -> Monitor:
    """A monitor of a board with this calibration."""
    return Monitor(parse_schedule(TABLE, "t"), dataclasses.replace(MonitorParameters(), calibration=calibration))


def as_sent(temp_c: float, junction_c: float = 25.0) -> float:
    """What a board with the error of MADE sends of a temperature, µV."""
    return (TYPE_K.emf_uv(temp_c) - TYPE_K.emf_uv(junction_c)) / MADE.gain + MADE.offset_uv


def test_the_monitor_shows_what_the_board_should_have_sent() -> None:
    """At 900 °C the board alone would be nine degrees low."""
    watched = monitor(MADE)
    watched.feed(Reading(0.0, as_sent(900.0), 25.0))
    assert watched.status().temp_c == pytest.approx(900.0, abs=1e-6)
    plain = monitor(UNCALIBRATED)
    plain.feed(Reading(0.0, as_sent(900.0), 25.0))
    assert plain.status().temp_c == pytest.approx(892.0, abs=1.0)


def test_a_temperature_that_the_board_converted_is_left_alone() -> None:
    """There is no EMF to correct."""
    watched = monitor(MADE)
    watched.feed(Reading(0.0, temp_c=900.0))
    assert watched.status().temp_c == 900.0


def test_its_uncertainty_stands_for_the_usual_boards() -> None:
    """0.05 % and 2 µV, k = 1; what is not known stays as usual."""
    by_gain_uv = 0.0005 * (TYPE_K.emf_uv(900.0) - TYPE_K.emf_uv(25.0))
    board_c = math.hypot(by_gain_uv, 2.0) / TYPE_K.sensitivity_uv_per_c(900.0)
    usual = temperature_uncertainty(TYPE_K, 2, 900.0, 25.0, Noise(0.0, 0.0, 1.0, 1.0))
    expected_c = 2.0 * math.hypot(usual.tolerance, usual.junction, usual.drift, board_c)
    assert monitor(MADE).expanded_uncertainty_c(900.0) == pytest.approx(expected_c, rel=1e-6)
    unknown = BoardCalibration(offset_uv=3.0, made_from=("by hand",))
    as_it_came = monitor(UNCALIBRATED).expanded_uncertainty_c(900.0)
    assert monitor(unknown).expanded_uncertainty_c(900.0) == as_it_came > expected_c


def test_a_replay_corrects_by_what_the_record_carries(tmp_path: Path) -> None:
    """And a record without it, as every old one, is replayed as it was."""
    tree = {"calibration": msgspec.to_builtins(MADE)}
    highest = {}
    for name, header in (("new", {"parameters": tree}), ("old", {})):
        with RecordReader(write_record(tmp_path / f"{name}.jsonl", GOOD, **header)) as reader:
            parameters = parameters_of(reader.header, name)
            run = Replay(Monitor(schedule_of(reader.header, name), parameters))
            list(run.events(reader))
            highest[name] = run.summary.highest_c
        assert parameters.calibration == (MADE if name == "new" else UNCALIBRATED)
    assert highest["old"] == pytest.approx(801.5, abs=1.0)
    assert highest["new"] == pytest.approx(809.0, abs=1.5)


def test_export_and_report_are_calibrated_and_say_so(tmp_path: Path) -> None:
    """The report names offset, gain, their uncertainty, the date and what it was made from."""
    stream = io.StringIO()
    write_csv([Reading(1.0, as_sent(500.0), 25.0)], TYPE_K, stream, MADE)
    assert stream.getvalue().splitlines()[1].split(",")[3] == "500.0"
    record = write_record(tmp_path / "heat.jsonl", GOOD, parameters={"calibration": msgspec.to_builtins(MADE)})
    edit([read_course(record)], Scale(), None).save(tmp_path / "heat.html")
    text = (tmp_path / "heat.html").read_text(encoding="utf-8")
    assert "offset +20.0 µV ± 4.0, gain 1.0100 ± 0.0010 (k = 2)" in text
    assert "made 2026-01-01 from shorted input, 20.644 mV" in text


@pytest.mark.parametrize("figures", [{"gain": 2.0}, {"gain": float("nan")}, {"offset_uv": 5000.0}])
def test_a_calibration_cannot_hide_a_fault(figures: dict[str, float]) -> None:
    """What is so far off is to be mended."""
    with pytest.raises(SettingsError):
        BoardCalibration(**figures)
