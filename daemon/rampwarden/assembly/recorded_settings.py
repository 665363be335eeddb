"""The settings a heat under way goes on by when its own can no longer be read: those in its record."""

from collections.abc import Mapping
from pathlib import Path

from rampwarden.assembly.heat import board_settings
from rampwarden.assembly.heat_start import find_heat
from rampwarden.errors import SettingsError
from rampwarden.records import Header, Search
from rampwarden.settings import Settings, legible_settings, recorded_settings
from rampwarden.terminal_text import error_lines


def settings_of_unfinished(
    file: Path | None, flags: Mapping[str, object], environment: Mapping[str, str]
) -> tuple[Settings, Search] | None:
    """Give the settings of the unfinished heat that the legible rest of the settings leads to, and how it was found.

    None if there is none.

    Where not even the port is legible, an unfinished heat that nobody is watching is meant. Raises nothing.
    """
    legible = legible_settings(file, flags, environment)
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
