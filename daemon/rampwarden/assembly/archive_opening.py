"""Where the archive is by the settings, and opened: all that a question about old heats needs, without any monitor."""

from collections.abc import Mapping
from pathlib import Path

from rampwarden.archive import Archive, FolderArchive, ServerArchive
from rampwarden.database import Where, is_server
from rampwarden.settings import Settings

# Whoever asks at a prompt waits a little; putting in a long heat takes a second.
_PATIENCE_S = 10.0


def archive_place(settings: Settings) -> Where:
    """Give the archive's folder or server: what is set, else a folder beside that of the records."""
    return settings.archive.place or settings.watch.records.parent / "archive"


def open_archive(settings: Settings, environment: Mapping[str, str], *, create: bool = False) -> Archive:
    """Open the archive; raises `ArchiveError` in one line."""
    place = archive_place(settings)
    if isinstance(place, str) and is_server(place):
        return ServerArchive.open(place, create=create, patience_s=_PATIENCE_S)
    return FolderArchive.open(Path(place), _cache(environment, Path(place)), create=create)


def _cache(environment: Mapping[str, str], folder: Path) -> Path:
    """Give the folder of this computer where an index may be lost: systemd's, the desktop's usual one, else beside."""
    for name, below in (("CACHE_DIRECTORY", ""), ("XDG_CACHE_HOME", "rampwarden"), ("HOME", ".cache/rampwarden")):
        if value := environment.get(name):
            return Path(value.partition(":")[0]) / below
    return folder.parent
