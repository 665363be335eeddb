"""The calibrations of boards: one TOML file a port, in the state folder of the service or of the person.

A port is known by its lasting name: a calibration kept for ttyUSB0 would be put on whatever is plugged in first.
"""

import json
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from rampwarden.core.instrument import BoardCalibration
from rampwarden.errors import RecordError
from rampwarden.toml_files import read_toml

FORMAT = "rampwarden-calibration/1"

_FOLDER = "calibrations"
# The service's own state (StateDirectory of the unit is below it), readable by every watch of the machine.
_MACHINE_STATE = Path("/var/lib/rampwarden")
_BY_ID = Path("/dev/serial/by-id")


def lasting_name(port: str) -> str:
    """Give the by-id name of a port where it has one, else the port as it is named.

    A link that somebody's udev rule made is a lasting name as well.
    """
    if "://" in port or Path(port).is_symlink():
        return port
    device = os.path.realpath(port)
    try:
        named = sorted(path for path in _BY_ID.iterdir() if os.path.realpath(path) == device)
    except OSError:
        named = []
    return str(named[0]) if named else port


def find_calibration(port: str, environment: Mapping[str, str]) -> Path | None:
    """Give the file that was kept for `port`; None where there is none."""
    name = _file_name(lasting_name(port))
    return next((path for folder in _folders(environment) if (path := folder / name).is_file()), None)


def read_calibration(path: Path) -> BoardCalibration:
    """Read a calibration; raises `RecordError` when it is none."""
    try:
        table = read_toml(path)
    except OSError as error:
        raise RecordError(f"{path}: cannot read the board's calibration: {error.strerror}") from error
    except ValueError as error:
        raise RecordError(f"{path}: no calibration: {error}") from error
    if table.get("format") != FORMAT:
        raise RecordError(f"{path}: no calibration of format {FORMAT}; make one with: rampwarden board --walk")
    known = {field.name for field in fields(BoardCalibration)}
    try:
        return msgspec.convert({key: value for key, value in table.items() if key in known}, BoardCalibration)
    except msgspec.ValidationError as error:
        raise RecordError(f"{path}: the calibration cannot be used: {error}") from error


def keep_calibration(
    port: str, calibration: BoardCalibration, checks: Sequence[Mapping[str, object]], environment: Mapping[str, str]
) -> Path:
    """Write the calibration of `port` with what it was made from, one table a check; gives the file.

    The one before is kept beside it. Raises `RecordError` when it cannot be written.
    """
    port = lasting_name(port)
    folder = _folder_to_write(environment)
    path = folder / _file_name(port)
    text = _toml(port, calibration, checks)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if path.exists():
            path.replace(path.with_suffix(f".{datetime.now(UTC):%Y%m%dT%H%M%S}.before"))
        unready = path.with_suffix(".new")
        unready.write_text(text, encoding="utf-8")
        unready.replace(path)
    except OSError as error:
        raise RecordError(f"{path}: cannot keep the calibration: {error.strerror}") from error
    return path


def _folders(environment: Mapping[str, str]) -> list[Path]:
    """Give where calibrations are looked for, the nearest first."""
    given = environment.get("STATE_DIRECTORY", "").partition(":")[0]
    home = environment.get("XDG_STATE_HOME", "") or str(Path(environment.get("HOME", "/")) / ".local" / "state")
    folders = [Path(given)] if given else []
    return [folder / _FOLDER for folder in (*folders, _MACHINE_STATE, Path(home) / "rampwarden")]


def _folder_to_write(environment: Mapping[str, str]) -> Path:
    """Give the first that may be written to; root's and the service's calibrations serve every watch."""
    folders = _folders(environment)
    for folder in folders[:-1]:
        standing = folder if folder.exists() else folder.parent
        if os.access(standing, os.W_OK | os.X_OK):
            return folder
    return folders[-1]


def _file_name(port: str) -> str:
    """Give a port's file: its last part for people, all of it where that is not enough.

    >>> _file_name("/dev/serial/by-id/usb-board_A1")
    'usb-board_A1.toml'
    """
    path = Path(port)
    named = path.name if path.parent in (_BY_ID, Path("/dev")) else port
    return f"{re.sub(r'[^A-Za-z0-9._-]+', '-', named).strip('-.')[:100]}.toml"


def _toml(port: str, calibration: BoardCalibration, checks: Sequence[Mapping[str, object]]) -> str:
    lines = [
        "# The board's own error, by rampwarden board --walk. Standard uncertainties, k = 1. Corrected EMF:",
        '# (as sent - offset_uv) × gain. Delete this file, or set [board] calibration = "none", to do without.',
        *_rows({"format": FORMAT, "port": port, **msgspec.to_builtins(calibration)}),
    ]
    for check in checks:
        lines += ["", "[[check]]", *_rows(check)]
    return "\n".join(lines) + "\n"


def _rows(table: Mapping[str, object]) -> list[str]:
    # A JSON string, number, boolean or list of them is written alike in TOML; what is not known is left out.
    return [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in table.items() if value is not None]
