"""The probes beside the followed one, from the settings: the core's parameters of each, and the boards they are on."""

import dataclasses
from pathlib import Path

from rampwarden.assembly.board_speech import board_source, channel_number
from rampwarden.clock import Clock
from rampwarden.core.instrument import UNCALIBRATED, BoardCalibration
from rampwarden.core.monitor_parameters import OtherProbe, parameters_for_interval
from rampwarden.errors import RecordError, SettingsError
from rampwarden.records import read_calibration
from rampwarden.settings import THE_BOARD, BoardSection, Settings, sound_probes
from rampwarden.sources import Board, BoardSettings, SeveralBoards

FurtherBoard = tuple[BoardSettings, dict[int, str]]
FOLLOWED = ""
"""In place of a name: the probe that the schedule follows."""


@dataclasses.dataclass(frozen=True, slots=True)
class BoardInUse:
    """One board of a watch: its `name`, how it is read, and the probe of each channel, `FOLLOWED` among them."""

    name: str
    source: BoardSettings
    probes: dict[int, str]


def boards_in_use(settings: Settings) -> tuple[BoardInUse, ...]:
    """Give every board of a watch, the followed probe's first; raises `SettingsError`, one line for each fault."""
    followed, beside, further = _sources(settings)
    first = BoardInUse(THE_BOARD, followed, {followed.channel: FOLLOWED} | beside)
    return first, *(BoardInUse(name, source, probes) for name, (source, probes) in further.items())


def check_probes(settings: Settings) -> None:
    """See to boards and probes before anything begins; raises `SettingsError`, one line for each fault."""
    faults = []
    try:
        _sources(settings)
    except SettingsError as error:
        faults.append(str(error))
    for name in settings.probes:
        try:
            _calibration(settings, name)
        except RecordError as error:
            faults.append(f"probes.{name}.calibration: {error}")
    if faults:
        raise SettingsError("\n".join(faults))


def other_probes(settings: Settings) -> tuple[OtherProbe, ...]:
    """Give the core's parameters of every other probe, in the settings' order.

    One whose calibration cannot be read is measured without: `check_probes` has said so, if there was time to ask.
    """
    return tuple(_probe(settings, name) for name in sound_probes(settings))


def watched_board(settings: Settings, clock: Clock) -> Board:
    """Give the board of the followed probe, with every other probe and board that there is.

    Raises `SettingsError`, one line for each, where a board's settings make no sense or a channel is not there.
    """
    followed, beside, further = _sources(settings)
    if not beside and not further:
        return Board(followed, clock)
    return SeveralBoards(followed, clock, beside, further)


def _sources(settings: Settings) -> tuple[BoardSettings, dict[int, str], dict[str, FurtherBoard]]:
    """Give the followed probe's board, the other probes on it by channel, and the further boards by name."""
    faults: list[str] = []
    followed = _attempt(faults, settings.board, THE_BOARD)
    channels: dict[str, dict[int, str]] = {}
    for name in sound_probes(settings):
        probe = settings.probes[name]
        try:
            number = channel_number(_section(settings, probe.board), probe.channel)
        except SettingsError as error:
            faults.append(str(error).replace("board.channel", f"probes.{name}.channel"))
        else:
            channels.setdefault(probe.board, {})[number] = name
    beside = channels.pop("", {})
    further: dict[str, FurtherBoard] = {}
    for board, probes in channels.items():
        source = _attempt(faults, settings.boards[board], f"boards.{board}")
        if source is not None:
            first, *rest = probes
            further[board] = dataclasses.replace(source, channel=first, also=tuple(rest)), probes
    if faults or followed is None:
        raise SettingsError("\n".join(faults))
    return dataclasses.replace(followed, also=tuple(beside)), beside, further


def _attempt(faults: list[str], section: BoardSection, name: str) -> BoardSettings | None:
    """Give a board as it is read; None, and one line more, where its settings make no sense."""
    try:
        return board_source(section)
    except SettingsError as error:
        faults.append(str(error).replace("board.", f"{name}."))
        return None


def _probe(settings: Settings, name: str) -> OtherProbe:
    probe = settings.probes[name]
    patience = parameters_for_interval(_section(settings, probe.board).interval)
    return OtherProbe(
        name=name,
        place=probe.place,
        thermocouple_type=probe.type,
        tolerance_class=probe.tolerance_class,
        calibration=_calibration_or_none(settings, name),
        ceiling_c=probe.ceiling,
        signal_lost_s=max(settings.signal.lost_after, patience.signal_lost_s),
        board=probe.board,
    )


def _section(settings: Settings, board: str) -> BoardSection:
    return settings.boards[board] if board else settings.board


def _calibration(settings: Settings, name: str) -> BoardCalibration:
    file = settings.probes[name].calibration
    return read_calibration(Path(file).expanduser()) if file else UNCALIBRATED


def _calibration_or_none(settings: Settings, name: str) -> BoardCalibration:
    try:
        return _calibration(settings, name)
    except RecordError:
        return UNCALIBRATED
