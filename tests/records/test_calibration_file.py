"""A board's calibration is found again by its port, and one that cannot be used is said to be that."""

import os
from pathlib import Path

import pytest

from rampwarden.core.instrument.calibration import BoardCalibration
from rampwarden.errors import RampwardenError
from rampwarden.records.calibration_file import find_calibration, keep_calibration, lasting_name, read_calibration

MADE = BoardCalibration(12.5, 0.9985, 2.1, 0.0006, "2026-01-01", ("shorted input", '20.644 mV, "the blue source"'))
PORT = "/dev/serial/by-id/usb-board_A1"


def test_what_is_kept_is_read_again(tmp_path: Path) -> None:
    """To the last digit, whatever stands in its words."""
    environment = {"STATE_DIRECTORY": str(tmp_path)}
    path = keep_calibration(PORT, MADE, [{"step": "short", "emf_uv": 12.5, "expected_uv": None}], environment)
    assert path == find_calibration(PORT, environment)
    assert read_calibration(path) == MADE
    assert find_calibration("/dev/serial/by-id/usb-board_A2", environment) is None


def test_a_person_without_a_service_keeps_it_at_home(tmp_path: Path) -> None:
    """In the state folder of the session."""
    path = keep_calibration(PORT, MADE, [], {"STATE_DIRECTORY": "", "XDG_STATE_HOME": str(tmp_path)})
    if os.access("/var/lib/rampwarden", os.W_OK):
        pytest.skip("this machine has a folder for services")
    assert path == tmp_path / "rampwarden" / "calibrations" / "usb-board_A1.toml" or path.is_relative_to("/var/lib")
    path.unlink()


def test_a_link_by_a_rule_is_a_lasting_name(tmp_path: Path) -> None:
    """As our own udev rule makes it."""
    link = tmp_path / "rampwarden-board"
    link.symlink_to("/dev/null")
    assert lasting_name(str(link)) == str(link)
    assert lasting_name("socket://host:5000") == "socket://host:5000"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("offset_uv = 1.0", "no calibration of format"),
        ("offset_uv = ", "no calibration"),
        ('format = "rampwarden-calibration/1"\noffset_uv = "much"', "cannot be used"),
        ('format = "rampwarden-calibration/1"\ngain = 2.0', "to be"),
        ('format = "rampwarden-calibration/1"\noffset_uv = nan', "none"),
    ],
)
def test_what_is_no_calibration_is_refused_in_one_line(tmp_path: Path, text: str, why: str) -> None:
    """With the file's name or what to do."""
    path = tmp_path / "board.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RampwardenError, match=why):
        read_calibration(path)
    with pytest.raises(RampwardenError, match="cannot read"):
        read_calibration(tmp_path / "nowhere.toml")
