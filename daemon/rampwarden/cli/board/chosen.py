"""Which of several boards is listened to: one of the settings' further boards in the place of the first."""

from rampwarden.errors import SettingsError
from rampwarden.settings import THE_BOARD, LoadedSettings


def loaded_for(loaded: LoadedSettings, board: str | None, port: str | None) -> LoadedSettings:
    """Give settings whose [board] is the section of this name, and its first probe the followed one.

    `port` is what was given beside it, if anything was. Raises `SettingsError` for a board that is not there.
    """
    if board is None or board == THE_BOARD:
        return loaded
    settings = loaded.settings
    section = settings.boards.get(board)
    if section is None:
        known = ", ".join([THE_BOARD, *settings.boards])
        raise SettingsError(f"--board {board}: there is no such board in the settings; known: {known}")
    probe = next((probe for probe in settings.probes.values() if probe.board == board), None)
    changed: dict[str, object] = {} if port is None else {"port": port}
    if probe is not None:
        changed["channel"] = probe.channel
        couple = settings.thermocouple.model_copy(update={"type": probe.type, "tolerance_class": probe.tolerance_class})
        settings = settings.model_copy(update={"thermocouple": couple})
    settings = settings.model_copy(update={"board": section.model_copy(update=changed)})
    at = f"boards.{board}."
    origins = {path: origin for path, origin in loaded.origins.items() if not path.startswith("board.")}
    origins |= {f"board.{path.removeprefix(at)}": origin for path, origin in origins.items() if path.startswith(at)}
    return loaded.model_copy(update={"settings": settings, "origins": origins})


def section_of(board: str | None) -> str:
    """Give the section that a board's settings stand in."""
    return "board" if board is None or board == THE_BOARD else f"boards.{board}"
