"""The settings a heat under way goes on by when its own can no longer be read: those in its record."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from rampwarden.assembly.heat import board_settings
from rampwarden.assembly.heat_note import noted_heat
from rampwarden.assembly.heat_start import find_heat
from rampwarden.errors import SettingsError
from rampwarden.records import Header, Search
from rampwarden.settings import Settings, leaves, legible_settings, looks_cut_short, recorded_settings
from rampwarden.terminal_text import error_lines


@dataclass(frozen=True, slots=True)
class StartSettings:
    """The settings a start goes by. Where those of an unfinished heat's record stand in: how it was found, and `why`.

    A fresh heat is `refused` by what could not be read.
    """

    settings: Settings
    search: Search | None = None
    why: str = ""
    refused: SettingsError | None = None


def settings_at_start(
    read: Callable[[], Settings],
    file: Path | None,
    flags: Mapping[str, object],
    environment: Mapping[str, str],
    *,
    may_go_on: bool,
) -> StartSettings:
    """Give what is read, or what stands in its record where a heat may be gone on with.

    Raises the `SettingsError` of `read` where nothing stands in.
    """
    try:
        settings = read()
    except SettingsError as error:
        found = settings_of_unfinished(file, flags, environment) if may_go_on else None
        if found is None:
            raise
        how = looks_cut_short(file)
        return StartSettings(*found, f"{file}: {how}; {first_line(error)}" if how else first_line(error), error)
    cut = cut_short(file, settings, flags, environment) if may_go_on else None
    return StartSettings(settings) if cut is None else StartSettings(*cut)


def settings_again(read: Callable[[], Settings], file: Path | None, in_force: Settings) -> Settings:
    """Read settings again under a watch; raises `SettingsError`, too, where a file looks cut short and lacks some."""
    settings, how = read(), looks_cut_short(file)
    lacks = _lacking(in_force, settings) if how else ""
    if lacks:
        raise SettingsError(f"{file}: {how}, and lacks {lacks}")
    return settings


def settings_of_unfinished(
    file: Path | None, flags: Mapping[str, object], environment: Mapping[str, str]
) -> tuple[Settings, Search] | None:
    """Give the settings of the unfinished heat that the legible rest of the settings leads to, and how it was found.

    None if there is none. Where they lead to none, the heat is meant that the last start under this file left word of;
    and where not even the port is legible, one that nobody is watching. Raises nothing.
    """
    legible = legible_settings(file, flags, environment)
    found = _settings_found(legible, flags, environment)
    note = noted_heat(file, environment) if found is None else None
    if note is not None:
        # Below what is typed beside the file, which is as it was meant.
        noted = {"board": {"port": note.port}, "watch": {"records": note.records}}
        found = _settings_found(recorded_settings(noted, legible, flags, environment), flags, environment)
    return found


def cut_short(
    file: Path | None, settings: Settings, flags: Mapping[str, object], environment: Mapping[str, str]
) -> tuple[Settings, Search, str] | None:
    """Give what `settings_of_unfinished` gives, and why, where a file can be read and yet is not what somebody wrote.

    It is empty, or it breaks off in the midst of a line and lacks what the heat under way was begun with. Else None.
    Raises nothing.
    """
    why = looks_cut_short(file)
    if file is None or not why:
        return None
    found = settings_of_unfinished(file, flags, environment)
    if found is None:
        return None
    lacks = _lacking(found[0], settings)
    return (*found, f"{file}: {why}, and lacks {lacks}") if lacks else None


def _lacking(begun: Settings, present: Settings) -> str:
    """Name the first setting that a heat was begun with and that is at its default now, and how many more; or none."""
    before, now = (dict(leaves(each.model_dump(mode="json", exclude_defaults=True))) for each in (begun, present))
    gone = sorted(before.keys() - now.keys() - {"watch.records"})
    if not gone:
        return ""
    return f"{gone[0]} and {len(gone) - 1} more" if gone[1:] else gone[0]


def _settings_found(
    legible: Settings, flags: Mapping[str, object], environment: Mapping[str, str]
) -> tuple[Settings, Search] | None:
    search = find_heat(legible)
    found = search.found
    if found is None:
        return None
    settings = recorded_settings(_recorded(found.header, legible), legible, flags, environment)
    try:
        board_settings(settings)
    except SettingsError:
        return None
    return (settings, search) if settings.board.port else None


def first_line(error: SettingsError) -> str:
    """Give the first fault, and how many more there are."""
    first, *more = error_lines(str(error))
    return f"{first} (and {len(more)} more: see rampwarden settings)" if more else first


def _recorded(header: Header, legible: Settings) -> Mapping[str, object]:
    """Give what a header tells of the settings; the folder it was found by stays as it is.

    Where it tells of all, a section that it lacks was at its defaults. Records of older versions tell of the board.
    """
    recorded: dict[str, object] = {name: {} for name in Settings.model_fields} if header.settings else {}
    recorded.update(header.settings)
    watch = recorded.get("watch")
    pot = {"crucible": header.crucible, "metal": header.metal}
    records = {"records": str(legible.watch.records)}
    return {
        **recorded,
        "board": header.board,
        "watch": {**pot, **(watch if isinstance(watch, dict) else {}), **records},
    }
