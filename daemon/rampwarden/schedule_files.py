"""Schedule files: found by path or name, read as TOML, handed to the core's parser."""

from collections.abc import Sequence
from pathlib import Path

from rampwarden.core.heat import parse_schedule
from rampwarden.core.schedule import Schedule
from rampwarden.errors import ScheduleError, ScheduleUnreadableError
from rampwarden.toml_files import read_toml

SCHEDULE_FOLDERS = (
    Path("config/schedules"),
    Path("/etc/rampwarden/schedules"),
    Path(__file__).parent / "shipped" / "schedules",
)
"""Where a schedule is looked for by its name: the working directory's, then the machine's, then the program's own."""


def read_schedule(path: Path) -> tuple[Schedule, dict[str, object]]:
    """Read a schedule file; gives the schedule and the table it was made from, which a record keeps."""
    try:
        table = read_toml(path)
    except OSError as error:
        raise ScheduleUnreadableError(f"{path}: cannot read the schedule: {error.strerror}") from error
    except ValueError as error:
        raise ScheduleUnreadableError(f"{path}: {error}") from error
    return parse_schedule(table, str(path)), table


def find_schedule(name: Path, folders: Sequence[Path] = SCHEDULE_FOLDERS) -> Path:
    """Give the file a person means by `name`: a path as it stands, or a schedule's name without its ending."""
    if name.suffix == ".toml" or len(name.parts) > 1 or _exists(name):
        return name
    for folder in folders:
        file = folder / f"{name}.toml"
        if _exists(file):
            return file
    known = ", ".join(path.stem for path in list_schedules(folders)) or "none found"
    raise ScheduleUnreadableError(f"no schedule {str(name)!r}: give a file, or one of these names: {known}")


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except OSError as error:
        # Too long a name, or a folder that may not be looked into.
        raise ScheduleError(f"{path}: cannot look for the schedule: {error.strerror}") from error


def list_schedules(folders: Sequence[Path] = SCHEDULE_FOLDERS) -> list[Path]:
    """Give every schedule file of the folders that exist, by name; of two of one name the one that would be found."""
    found: dict[str, Path] = {}
    for folder in folders:
        if folder.is_dir():
            for path in sorted(folder.glob("*.toml")):
                found.setdefault(path.stem, path)
    return list(found.values())
