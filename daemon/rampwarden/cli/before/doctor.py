"""`rampwarden doctor`: one file with what somebody asked for help needs to see, and nothing that is secret.

Each part is tried by itself: what cannot be told is told in its place, since whoever needs this has something broken.
"""

import json
import os
import platform
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.assembly.archive_opening import archive_place, open_archive
from rampwarden.assembly.register_place import register_place
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.during import standing
from rampwarden.control import running
from rampwarden.core.model import PEOPLES_WORDS, EventName
from rampwarden.errors import RampwardenError, ReportError
from rampwarden.records import RecordReader, Register
from rampwarden.settings import ENVIRONMENT_PREFIX, LoadedSettings, Settings, leaves, load_settings
from rampwarden.terminal_text import printable

_PACKAGES = (
    "rampwarden", "numpy", "msgspec", "pydantic", "pydantic-settings", "pyserial", "paho-mqtt", "structlog", "typer",
    "rich", "matplotlib", "starlette", "uvicorn", "pymodbus", "sqlalchemy", "alembic", "psycopg", "distributed",
    "prometheus-client",
)  # fmt: skip
_LAST_LINES = 40
_LONGEST_LINE = 400
# Names of settings that say who somebody is or what they wrote: the value is not needed to help.
_PERSONAL = ("watch.note", "mqtt.user")
# What is refused says what somebody had written.
_PEOPLES_EVENTS = (*PEOPLES_WORDS, EventName.REFUSED)


def doctor(
    output: Annotated[Path, typer.Option("--output", "-o", help="The file; nothing is written over.")] = Path(
        "rampwarden-doctor.txt"
    ),
    config: ConfigOption = None,
) -> None:
    """Collect what somebody asked for help needs to see into one file: versions, settings, counters, last lines."""
    text = "\n".join(printable(line) for line in lines(config)) + "\n"
    try:
        # For its owner alone until they hand it on: the last lines are of their heat.
        descriptor = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise ReportError(f"{output}: is there already; give another name with --output") from None
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(text)
    print(printable(f"{output}: written; read it before you hand it on, it ends with the last lines of a record"))


def lines(config: Path | None) -> Iterator[str]:
    """Give the whole, part by part."""
    yield f"rampwarden doctor · {datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}"
    yield from _part("versions", _versions)
    yield from _part("this computer", _computer)
    loaded: list[LoadedSettings] = []

    def settings_lines() -> Iterator[str]:
        loaded.append(load_settings(config, {}, os.environ))
        yield from _settings(loaded[0])

    yield from _part("settings", settings_lines)
    settings = loaded[0].settings if loaded else Settings()
    yield from _part("places", lambda: _places(settings))
    yield from _part("running watches", _watches)
    yield from _part("newest record", lambda: _newest_record(settings))


def _part(title: str, tell: Callable[[], Iterable[str]]) -> Iterator[str]:
    yield ""
    yield f"== {title}"
    try:
        yield from tell()
    except (RampwardenError, OSError) as error:
        yield f"cannot be told: {error}"
    except Exception as error:  # one part that fails is no reason to leave out the others
        yield f"cannot be told: unexpected {type(error).__name__}: {error}"


def _versions() -> Iterator[str]:
    yield f"python {platform.python_version()} ({sys.executable})"
    for package in _PACKAGES:
        try:
            yield f"{package} {version(package)}"
        except PackageNotFoundError:
            yield f"{package} –"


def _computer() -> Iterator[str]:
    yield f"{platform.system()} {platform.release()} {platform.machine()}, {os.cpu_count()} cores"
    release = Path("/etc/os-release")
    if release.exists():
        yield next(
            (line for line in release.read_text(encoding="utf-8").splitlines() if line.startswith("PRETTY_NAME")), ""
        )
    load = ", ".join(f"{each:.2f}" for each in os.getloadavg())
    yield f"load {load}"
    names = sorted(name for name in os.environ if name.startswith(ENVIRONMENT_PREFIX))
    yield f"variables that are set, without their values: {', '.join(names) or 'none'}"


def _settings(loaded: LoadedSettings) -> Iterator[str]:
    """Give what is not at its default. Secrets stand in files of their own, whose names alone are told."""
    tree = dict(leaves(loaded.settings.model_dump(mode="json")))
    for path, origin in sorted(loaded.origins.items()):
        value = "(left out)" if path in _PERSONAL else repr(tree.get(path, "…"))
        yield f"{path} = {value}  # {origin}"
    if not loaded.origins:
        yield "all at their defaults"


def _places(settings: Settings) -> Iterator[str]:
    folder = settings.watch.records
    for name, path in (("records", folder), ("their parent", folder.parent)):
        if path.exists():
            free = shutil.disk_usage(path).free
            yield f"{name}: {path.absolute()}, {free / 1e9:.2f} GB free, writable: {os.access(path, os.W_OK)}"
        else:
            yield f"{name}: {path.absolute()} is not there"
    yield f"records in it: {sum(1 for _ in folder.glob('*.jsonl*')) if folder.exists() else 0}"
    try:
        with Register.open(register_place(settings)) as books:
            crucibles = books.crucibles()
            yield f"register: {books.name}: {len(crucibles)} crucibles, {len(books.entered())} heats"
    except RampwardenError as error:
        yield f"register: {error}"
    try:
        with closing(open_archive(settings, os.environ)) as archive:
            count = archive.database.row("SELECT count(*) FROM archived")
            yield f"archive: {archive.name}: {count[0] if count else 0} heats"
            yield from archive.damaged[:_LAST_LINES]
    except RampwardenError as error:
        yield f"archive: {archive_place(settings)}: {error}"
    port = settings.board.port
    if port and "://" not in port:
        there = os.access(port, os.R_OK | os.W_OK)
        yield f"port: {port}: {'may be opened' if there else 'is not there, or may not be opened'}"


def _watches() -> Iterator[str]:
    snapshots = running(os.environ)
    for snapshot in snapshots:
        yield from standing.describe(snapshot)
    if not snapshots:
        yield "none that answers"


def _newest_record(settings: Settings) -> Iterator[str]:
    folder = settings.watch.records
    records = sorted(folder.glob("*.jsonl"), key=lambda path: path.stat().st_mtime)
    if not records:
        yield "there is none"
        return
    newest = records[-1]
    yield f"{newest.name}, {newest.stat().st_size} bytes"
    with RecordReader(newest) as reader:
        for _ in reader:
            pass
        tally = reader.tally
    yield f"foreign lines {tally.foreign_lines}, torn {tally.torn}"
    with newest.open("rb") as file:
        from_byte = max(0, newest.stat().st_size - _LAST_LINES * _LONGEST_LINE)
        file.seek(from_byte)
        # The first of them may be the rest of a line.
        last = file.read().decode(errors="replace").splitlines()[1 if from_byte else 0 :][-_LAST_LINES:]
    yield from (_without_peoples_words(line)[:_LONGEST_LINE] for line in last)


def _without_peoples_words(line: str) -> str:
    """Leave out what somebody wrote into the heat, and who; settings and notes at its head; what cannot be read."""
    try:
        table = json.loads(line)
    except ValueError:
        table = None
    if not isinstance(table, dict):
        return f"(a line of {len(line)} letters that cannot be read)"
    if table.get("kind") == "header":
        left_out = ("note", "settings")
    elif table.get("kind") == "command" or table.get("event") in _PEOPLES_EVENTS:
        left_out = ("text", "by")
    else:
        return line
    return json.dumps({key: value for key, value in table.items() if key not in left_out}, ensure_ascii=False)
