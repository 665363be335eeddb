"""Which calibration a watch takes: the one that is set, none, or the one that was kept for its port."""

from pathlib import Path

import pytest

from rampwarden.assembly.heat import board_calibration
from rampwarden.assembly.heat_start import fresh_heat
from rampwarden.core.instrument.calibration import UNCALIBRATED, BoardCalibration
from rampwarden.errors import RecordError
from rampwarden.records.calibration_file import keep_calibration
from rampwarden.records.header_parameters import parameters_of
from rampwarden.settings import Settings, load_settings

MADE = BoardCalibration(7.0, 0.999, 2.0, 0.001, "2026-01-01", ("shorted input",))
PORT = "/dev/rampwarden-board"


def settings_of(calibration: str, port: str = PORT) -> Settings:
    """Settings that choose a calibration."""
    return load_settings(None, {"board.port": port, "board.calibration": calibration}, {}).settings


def test_the_one_kept_for_the_port_is_taken_unless_another_is_named(tmp_path: Path) -> None:
    """A file, or none."""
    here, elsewhere = {"STATE_DIRECTORY": str(tmp_path)}, {"STATE_DIRECTORY": str(tmp_path / "other")}
    path = keep_calibration(PORT, MADE, [], here)
    assert board_calibration(settings_of(""), here) == MADE
    assert board_calibration(settings_of("", "/dev/another"), here) == UNCALIBRATED
    assert board_calibration(settings_of("none"), here) == UNCALIBRATED
    assert board_calibration(settings_of(str(path)), elsewhere) == MADE
    with pytest.raises(RecordError, match="cannot read"):
        board_calibration(settings_of(str(tmp_path / "lost.toml")), here)


def test_a_heat_carries_it_in_its_header(tmp_path: Path) -> None:
    """From where a replay, and a watch that takes the heat up again, have it."""
    schedule = tmp_path / "s.toml"
    schedule.write_text('title = "T"\n[[segment]]\nname = "up"\nkind = "ramp"\nto = "200 C"\n', encoding="utf-8")
    heat = fresh_heat(settings_of(""), schedule, tmp_path / "h.jsonl", lasting=True, calibration=MADE)
    heat.writer.close()
    assert heat.monitor.calibration == MADE
    assert parameters_of(heat.header, "h").calibration == MADE
