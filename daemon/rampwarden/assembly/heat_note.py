"""Where the heat under a settings file is recorded: a note for a start that can read nothing of that file any more.

An emptied or half-written file names neither the port nor the folder of the records, and so hides the very record whose
settings would stand in for it. So each start leaves word of both, by the file's own name: in the folder of the control
socket, which outlives a kill, and in the state's, which outlives the power. Nothing here raises.
"""

import contextlib
import hashlib
import os
from collections.abc import Iterator, Mapping
from pathlib import Path

import msgspec
from msgspec import Struct

from rampwarden.control import make_folder
from rampwarden.errors import UNREADABLE_JSON, ControlError
from rampwarden.settings import Settings

_LONGEST = 8192
_FOLDER = "heats-under-way"


class HeatNote(Struct, frozen=True):
    """The port that was watched, and the folder of its records."""

    port: str
    records: str


def note_heat(file: Path | None, settings: Settings, environment: Mapping[str, str]) -> None:
    """Leave word of where a heat is recorded that was begun, or gone on with, under a settings file."""
    if file is None:
        return
    records = settings.watch.records.expanduser().absolute()
    data = msgspec.json.encode(HeatNote(settings.board.port, os.fsencode(records).decode(errors="replace")))
    for path in _notes(file, environment):
        with contextlib.suppress(OSError):
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            unready = path.with_suffix(".new")
            unready.write_bytes(data)
            unready.replace(path)


def noted_heat(file: Path | None, environment: Mapping[str, str]) -> HeatNote | None:
    """Give what the last start under a settings file left word of; None where there is nothing legible."""
    for path in () if file is None else _notes(file, environment):
        with contextlib.suppress(OSError, *UNREADABLE_JSON), path.open("rb") as note:
            return msgspec.json.decode(note.read(_LONGEST), type=HeatNote)
    return None


def _notes(file: Path, environment: Mapping[str, str]) -> Iterator[Path]:
    name = hashlib.sha256(os.fsencode(file.absolute())).hexdigest()[:16] + ".json"
    with contextlib.suppress(ControlError):
        yield make_folder(environment) / _FOLDER / name
    given = environment.get("STATE_DIRECTORY", "").partition(":")[0]
    if given:
        yield Path(given) / _FOLDER / name
    elif home := environment.get("XDG_STATE_HOME", "") or environment.get("HOME", ""):
        state = Path(home) if environment.get("XDG_STATE_HOME") else Path(home) / ".local" / "state"
        yield state / "rampwarden" / _FOLDER / name
